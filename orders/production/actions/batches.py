"""Batches: made, released or cancelled; their orders follow them."""

from collections.abc import Sequence
from typing import Any, Final

from django.conf import settings
from django.db import transaction
from django.db.models import Sum
from django.utils.translation import gettext as _
from django.utils.translation import override

from blendshop.accounts.models import User
from blendshop.errors import BadInput, IllegalMove, NotAllowed
from blendshop.roles import Role, has_role, require_role
from orders.inventory.holds import require_no_hold
from orders.models import Batch, BatchPart, Order
from orders.production.actions.quality import set_aside_reading
from orders.production.density_read import counting_reading
from orders.production.made_portions import made_portions
from orders.production.notices import tell_released
from orders.production.release_checks import release_hindrances
from orders.production.steps import batch_steps, not_charged
from orders.records.moves import move, note, require_move
from orders.tanks.actions.occupying import finish_batch

MAKERS: Final = (Role.PLANT, Role.FORMULATOR)
RELEASERS: Final = (Role.PLANT, Role.FORMULATOR)
CANCELLERS: Final = (Role.PLANT, Role.FORMULATOR)


def mark_made(*, batch: Batch, acting_user: User) -> None:
    """The load is in the tank; it leaves only after its release.

    There must be something of every stock in the tank, with its weight and lot written down.
    """
    require_role(acting_user, *MAKERS)
    if batch.status == Batch.Status.PLANNED:
        raise IllegalMove(
            _(
                "Nothing is charged into %(batch)s yet. If it was weighed from the"
                " printed ticket, write down each weight and lot of it."
            )
            % {"batch": batch.number}
        )
    require_move(batch, Batch.Status.MADE)
    with transaction.atomic():
        missing = ", ".join(step.name for step in not_charged(batch_steps(batch)))
        if missing:
            raise IllegalMove(
                _("%(batch)s is not complete: %(missing)s is not charged yet.")
                % {"batch": batch.number, "missing": missing}
            )
        move(batch, Batch.Status.MADE, acting_user=acting_user)
        portions, basis = made_portions(batch)
        finish_batch(batch=batch, portions=portions, basis=basis, acting_user=acting_user)


def release_batch(
    *, batch: Batch, acting_user: User, why: str = "", reading_is_wrong: bool | None = None
) -> None:
    """Checked and good to leave. The last release of an order's batches makes the order made.

    While a lot in it is on hold nobody releases it. A held batch, or one with something in the
    way (no reading, a reading outside its window, a guarantee missed, a maximum exceeded), is
    released only by a formulator, with a reason. Where the counting reading lies outside,
    ``reading_is_wrong`` says whether it is set aside (it then counts for nothing) or true all
    the same.
    """
    require_role(acting_user, *RELEASERS)
    require_move(batch, Batch.Status.RELEASED)
    with transaction.atomic():
        orders = locked_orders(batch)
        require_no_hold([batch])
        with override(
            settings.LANGUAGE_CODE
        ):  # written down for good, so in the words of the house
            hindrances = release_hindrances(batch)
        if hindrances or batch.status == Batch.Status.HELD:
            require_formulator(acting_user, hindrances)
            if not why.strip():
                raise BadInput(
                    _("Say why the batch may leave all the same."),
                    fields={"why": _("Give a reason.")},
                )
        data: dict[str, Any] = {"hindrances": hindrances}
        reading = counting_reading(batch)
        if reading is not None and not reading.is_inside:
            if reading_is_wrong is None:
                message = _("Say whether the reading was wrong.")
                raise BadInput(message, fields={"reading_is_wrong": message})
            data["reading_is_wrong"] = reading_is_wrong
            if reading_is_wrong:
                key = f"release-{reading.pk}"
                set_aside_reading(reading=reading, why=why, key=key, acting_user=acting_user)
        move(batch, Batch.Status.RELEASED, acting_user=acting_user, why=why.strip(), data=data)
        tell_released(batch, orders, by=acting_user)
        for order in orders:
            if order.status == Order.Status.PLANNED and _is_complete(order):
                why = "All batches are released."
                move(order, Order.Status.MADE, acting_user=acting_user, why=why)


def cancel_batch(*, batch: Batch, acting_user: User, why: str) -> None:
    """Take a batch back; an order that has no live batch left is open again."""
    require_role(acting_user, *CANCELLERS)
    require_move(batch, Batch.Status.CANCELLED)
    if not why.strip():
        raise BadInput(_("Say why the batch is cancelled."), fields={"why": _("Give a reason.")})
    with transaction.atomic():
        orders = locked_orders(batch)
        move(batch, Batch.Status.CANCELLED, acting_user=acting_user, why=why)
        reopen_without_batches(orders, batch, acting_user)


def reopen_without_batches(orders: Sequence[Order], batch: Batch, acting_user: User) -> None:
    """Open the planned orders again for which the cancelled batch was the last."""
    for order in orders:
        if order.status == Order.Status.PLANNED:
            if not Batch.objects.live().of_order(order).exists():
                why = f"{batch.number} was the last batch and is cancelled."
                move(order, Order.Status.OPEN, acting_user=acting_user, why=why)
            else:
                why = f"{batch.number} is cancelled; what it held is to be planned again."
                note(order, acting_user=acting_user, why=why)


def require_formulator(acting_user: User, hindrances: Sequence[str]) -> None:
    """Raise NotAllowed, saying what stands in the way, unless the person is a formulator."""
    if not has_role(acting_user, Role.FORMULATOR):
        told = " ".join(hindrances) or _("The batch is held.")
        raise NotAllowed(
            _("%(told)s Only a formulator may release it, with a reason.") % {"told": told}
        )


def locked_orders(*batches: Batch) -> list[Order]:
    """The batches' orders, held until commit: two people at one order must see each other."""
    lines = BatchPart.objects.filter(batch__in=batches).values("order_line__order")
    return list(Order.objects.select_for_update(of=("self",)).filter(pk__in=lines).order_by("pk"))


def _is_complete(order: Order) -> bool:
    """Whether released batches cover every line."""
    released = dict(
        BatchPart.objects.filter(order_line__order=order, batch__status=Batch.Status.RELEASED)
        .order_by()
        .values_list("order_line")
        .annotate(sum=Sum("quantity"))
    )
    return all(line.quantity <= released.get(line.pk, 0) for line in order.lines.all())
