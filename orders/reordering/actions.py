"""Confirm a reorder that was shown, or other quantities of an order.

A customer's confirmation makes the order at once: the price shown is by policy, nothing is left
to negotiate, and a quote to be sent and accepted by the same person would only be two more
clicks. What no formulator has reviewed, and what is above the company's limits, is a request
instead (``gate``). It is refused when the price needs the office's approval, and when anything
shown has changed in between: the page sends back the digest of what it showed. A rep's
confirmation makes a draft quote, because the price may still be talked about and the customer has
to agree.

A recipe that had to be solved again is saved as a new revision first, so that the order names
exactly what was shown. The same form sent twice gives the same order or quote.
"""

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any, Final

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from blendshop.accounts.models import Company, User
from blendshop.errors import BadInput, ChangedMeanwhile, IllegalMove
from blendshop.roles import Role, has_role, require_role
from formulas.blends.actions import carry_review, save_blend
from formulas.models import Blend, BlendRevision
from orders.models import (
    Order,
    OrderLine,
    PlantProfile,
    Quote,
    QuoteEvent,
    StockReservation,
)
from orders.ordering.actions import (
    ORDER_PREFIX,
    place_order,
    require_may_order_for,
    tell_of_order,
)
from orders.planning.actions.reservations import reserve_for_order
from orders.planning.due_dates import read_due_dates
from orders.quoting.actions.quotes import draft_quote
from orders.quoting.actions.refusals import require_day_to_come
from orders.quoting.draft_prices import DraftLine, line_figures
from orders.records.moves import move, note
from orders.records.numbering import hold_series
from orders.reordering.changing import changed_order, why_not_changed
from orders.reordering.gate import reasons_to_keep
from orders.reordering.preview import OfferedLine, Reorder

#: What a line takes over from the one that is worked out anew.
_TAKEN_OVER: Final = (
    "revision",
    "quantity",
    "volume_gal",
    "mass_lb",
    "price",
    "price_per_gal",
    "line_total",
    "deposit",
)
REORDERERS: Final = (Role.CUSTOMER, Role.REP, Role.OFFICE)


@dataclass(frozen=True, slots=True)
class SaidBeside:
    """What the customer says beside what it orders; it changes nothing of recipe and price."""

    reference: str = ""
    wanted_on: date | None = None
    note: str = ""


def confirm_reorder(
    *,
    reorder: Reorder,
    acting_user: User,
    seen_digest: str,
    once: str,
    terms: SaidBeside = SaidBeside(),
    as_order: bool = False,
) -> Order | Quote:
    """Order (customer) or draft a quote for (rep, office) what ``reorder`` offers.

    ``as_order`` makes the order for rep and office too: of what the customer has reserved.

    ``seen_digest`` is the digest of what was shown, ``once`` the random mark of that page.
    ChangedMeanwhile when today's offer is another one, IllegalMove when it cannot be ordered.
    The order is a request where the gate says why.
    """
    require_may_order_for(acting_user, reorder.company)
    key = once_key(acting_user, once)
    with transaction.atomic():
        # The second click waits here until the first one's order is there to be found.
        Company.objects.select_for_update().get(pk=reorder.company.pk)
        if done := _done_before(key):
            return done
        _require_as_shown(reorder, seen_digest)
        if has_role(acting_user, Role.REP, Role.OFFICE) and not as_order:
            revisions = [_revision_of(line, reorder, acting_user) for line in reorder.lines]
            return _draft(reorder, revisions, acting_user, key, terms)
        return _order(reorder, acting_user, key, terms)


def once_key(user: User, once: str) -> str:
    """What marks one confirmation of one person; BadInput without a mark."""
    if not once.strip():
        raise BadInput(_("The form is incomplete; open the reorder again."))
    return hashlib.sha256(f"{user.pk}:{once}".encode()).hexdigest()


def _done_before(key: str) -> Order | Quote | None:
    order = Order.objects.filter(once_key=key).first()
    if order is not None:
        return order
    event = QuoteEvent.objects.filter(data__once=key).select_related("quote").first()
    return event.quote if event else None


def _require_as_shown(reorder: Reorder, seen_digest: str) -> None:
    """ChangedMeanwhile when today's offer is not what was read, IllegalMove when there is none."""
    if reorder.price is None:
        raise IllegalMove(_("This cannot be made today as it was; see what could be had instead."))
    if reorder.digest != seen_digest:
        raise ChangedMeanwhile(
            _(
                "Price, recipe or due date has changed since it was shown. Look at it again; "
                "nothing is ordered."
            )
        )


def _revision_of(line: OfferedLine, reorder: Reorder, acting_user: User) -> BlendRevision:
    """The revision to order: the old one, or the recipe solved again as a new revision.

    Without another stock or caution the new one is as reviewed as the old.
    """
    if line.wish is None:
        return line.wanted.revision
    blend: Blend | None = line.wanted.revision.blend
    name = line.wanted.revision.blend.name
    if blend is not None and blend.company_id is None and not _may_change_plant_book(acting_user):
        # The plant's own book is not the customer's to change: the company gets its own copy.
        blend = Blend.objects.filter(company=reorder.company, name=name).first()
    revision = save_blend(
        acting_user=acting_user,
        name=name,
        company=reorder.company,
        wish=line.wish.contract_json(),
        today=timezone.localdate(),
        blend=blend,
        note=f"Solved again for a reorder. {' '.join(line.reasons)}"[:300],
    )
    carry_review(base=line.wanted.revision, revision=revision)
    return revision


def _may_change_plant_book(user: User) -> bool:
    return has_role(user, Role.REP, Role.OFFICE)


def _draft(
    reorder: Reorder,
    revisions: list[BlendRevision],
    acting_user: User,
    key: str,
    terms: SaidBeside,
) -> Quote:
    quote = draft_quote(
        acting_user=acting_user,
        company=reorder.company,
        ship_to=reorder.ship_to,
        lines=[
            DraftLine(
                revision=revision,
                package=line.wanted.package,
                quantity=line.wanted.quantity,
                n_rate_lb_per_1000sqft=line.wanted.n_rate_lb_per_1000sqft,
            )
            for line, revision in zip(reorder.lines, revisions, strict=True)
        ],
        validity_days=PlantProfile.load().quote_validity_days,
        wanted_on=terms.wanted_on,
    )
    why = f"Reorder of {reorder.source}."
    note(quote, acting_user=acting_user, why=why, data={"once": key})
    return quote


def _order(reorder: Reorder, acting_user: User, key: str, terms: SaidBeside) -> Order:
    require_day_to_come(terms.wanted_on, timezone.localdate())
    total, deposit_total = _own_price(reorder)
    held_because = reasons_to_keep(reorder)
    lines = _order_lines(reorder, acting_user)
    _require_date_as_shown(reorder, lines)
    due_on = reorder.due_on
    assert due_on is not None  # noqa: S101 - require_date_as_shown has looked
    return place_order(
        company=reorder.company,
        ship_to=reorder.ship_to,
        lines=lines,
        total=total,
        deposit_total=deposit_total,
        acting_user=acting_user,
        who=str(acting_user),
        why=f"Reorder of {reorder.source}.",
        once_key=key,
        due_on=max(due_on, terms.wanted_on or due_on),
        customer_reference=terms.reference.strip()[:80],
        wanted_on=terms.wanted_on,
        customer_note=terms.note.strip()[:400],
        held_because=held_because,
    )


def _own_price(reorder: Reorder) -> tuple[Decimal, Decimal]:
    """Total and deposits a customer may agree to by itself; IllegalMove for the office's prices."""
    price = reorder.price
    assert price is not None  # noqa: S101 - require_as_shown has looked
    if price.needs_approval:
        raise IllegalMove(_("This price needs our approval first; ask your rep for a quote."))
    return price.total, price.deposit_total


def _order_lines(reorder: Reorder, acting_user: User) -> list[OrderLine]:
    """Order lines, unsaved, at the prices shown; what was solved again is saved first."""
    lines = []
    for position, line in enumerate(reorder.lines, 1):
        revision = _revision_of(line, reorder, acting_user)
        figures = line_figures(revision, line.request, line.price)
        del figures["price_per_package"]  # printed on quotes only
        lines.append(
            OrderLine(
                position=position,
                revision=revision,
                package=line.wanted.package,
                quantity=line.wanted.quantity,
                n_rate_lb_per_1000sqft=line.wanted.n_rate_lb_per_1000sqft,
                **figures,
            )
        )
    return lines


def _require_date_as_shown(reorder: Reorder, lines: Sequence[OrderLine]) -> None:
    """Of two who confirm at once the second is dated behind the first one's order."""
    hold_series(ORDER_PREFIX)
    earliest = read_due_dates(timezone.localdate()).of_lines(lines).due_on
    if reorder.due_on is None or earliest > reorder.due_on:
        raise ChangedMeanwhile(
            _(
                "Others have ordered meanwhile and the due date is later now. Look at it again;"
                " nothing is ordered."
            )
        )


def change_order(
    *, order: Order, quantities: Sequence[int], acting_user: User, seen_digest: str
) -> Order:
    """Other quantities, as they were shown; above the limits the order is a request (again)."""
    require_role(acting_user, Role.CUSTOMER)
    require_may_order_for(acting_user, order.company)
    with transaction.atomic():
        Company.objects.select_for_update().get(pk=order.company_id)
        order = Order.objects.select_for_update(of=("self",)).get(pk=order.pk)
        if told := why_not_changed(order):
            raise IllegalMove(told)
        offer = changed_order(order, quantities)
        _require_as_shown(offer, seen_digest)
        total, deposit_total = _own_price(offer)
        held_because = reasons_to_keep(offer, but=order)
        lines = _order_lines(offer, acting_user)
        if offer.due_on != order.due_on:
            _require_date_as_shown(offer, lines)
        before = [line.quantity for line in order.lines.all()]
        _write(order, lines)
        columns: dict[str, Any] = {
            "total": total,
            "deposit_total": deposit_total,
            "held_because": list(held_because),
            "due_on": max(order.due_on, offer.due_on or order.due_on),
        }
        _settle(order, columns, f"Quantities {before} changed to {list(quantities)}.", acting_user)
        tell_of_order(order, acting_user)
    return order


def _write(order: Order, lines: Sequence[OrderLine]) -> None:
    for line, anew in zip(order.lines.all(), lines, strict=True):
        for name in _TAKEN_OVER:
            setattr(line, name, getattr(anew, name))
        line.keep_money()
        line.save()


def _settle(order: Order, columns: dict[str, Any], why: str, acting_user: User) -> None:
    """The order's own columns, its state, and what it reserves."""
    to = Order.Status.REQUESTED if columns["held_because"] else Order.Status.OPEN
    told = " ".join([why, *columns["held_because"]])
    if order.status != to:
        move(order, to, acting_user=acting_user, why=told, **columns)
    else:
        if not Order.objects.filter(pk=order.pk, status=order.status).update(**columns):
            raise ChangedMeanwhile(_("Somebody else changed the order meanwhile; look again."))
        for name, value in columns.items():
            setattr(order, name, value)
        note(order, acting_user=acting_user, why=told)
    StockReservation.objects.filter(order_line__order=order).delete()
    if to == Order.Status.OPEN:
        reserve_for_order(order)
