"""Batches: planned from an order, made, released or cancelled; the order follows them."""

from collections.abc import Sequence
from typing import Final

from django.db import transaction
from django.db.models import Sum
from django.utils import timezone

from blendshop.accounts.models import User
from blendshop.errors import BadInput, IllegalMove, NotAllowed
from blendshop.roles import Role, has_role, require_role
from orders.actions.moves import move, note, require_move
from orders.batch_loads import split_into_loads
from orders.batch_plan import LoadRecipe, load_recipe, plan_load
from orders.batch_quality import release_hindrances
from orders.charging_page.steps import batch_steps, not_charged
from orders.models import Batch, Order, OrderLine, Tank
from orders.numbering import next_number
from orders.planned_recipes import making_revision

BATCH_PREFIX: Final = "B"
PLANNERS: Final = (Role.PLANT, Role.FORMULATOR, Role.OFFICE)
MAKERS: Final = (Role.PLANT, Role.FORMULATOR)
RELEASERS: Final = (Role.PLANT, Role.FORMULATOR)
CANCELLERS: Final = (Role.PLANT, Role.FORMULATOR)


def plan_batches(*, order: Order, tank: Tank, acting_user: User) -> list[Batch]:
    """One batch per tank load for everything of the order that no live batch covers yet.

    Raises IllegalMove when the order is not open or planned or nothing is left to plan, and
    BadInput when the tank does not suit or a load cannot be weighed; then nothing is planned.
    """
    require_role(acting_user, *PLANNERS)
    if not tank.active:
        raise BadInput(f"{tank.name} is out of use.", fields={"tank": "Choose another tank."})
    with transaction.atomic():
        # Two people planning at once: the second waits here and finds nothing left to plan.
        order = Order.objects.select_for_update(of=("self",)).get(pk=order.pk)
        if order.status != Order.Status.PLANNED:
            require_move(order, Order.Status.PLANNED)
        batches = [
            batch
            for line in order.lines.select_related(
                "revision__blend", "package", "order__company", "order__ship_to"
            )
            for batch in _plan_line(line, tank, acting_user)
        ]
        if not batches:
            raise IllegalMove(f"All of {order.number} is planned already.")
        why = f"Planned in {tank.name}: {', '.join(batch.number for batch in batches)}."
        if order.status == Order.Status.OPEN:
            move(order, Order.Status.PLANNED, acting_user=acting_user, why=why)
        else:
            note(order, acting_user=acting_user, why=why)
    return batches


def _plan_line(line: OrderLine, tank: Tank, acting_user: User) -> list[Batch]:
    covered = line.batches.live().aggregate(sum=Sum("quantity"))["sum"] or 0
    left = line.quantity - covered
    if left <= 0:
        return []
    recipe = load_recipe(making_revision(line), tank, timezone.localdate())
    loads = split_into_loads(left, line.package, tank)
    return [
        _plan_batch(line, tank, recipe, quantity, (number, len(loads)), acting_user)
        for number, quantity in enumerate(loads, start=1)
    ]


def _plan_batch(
    line: OrderLine,
    tank: Tank,
    recipe: LoadRecipe,
    quantity: int,
    load: tuple[int, int],
    acting_user: User,
) -> Batch:
    previous = Batch.objects.live().filter(tank=tank).order_by("-pk").first()
    plan = plan_load(line, quantity, tank, recipe, previous)
    batch = Batch.objects.create(
        number=next_number(BATCH_PREFIX),
        order_line=line,
        load_number=load[0],
        load_count=load[1],
        tank=tank,
        quantity=quantity,
        target_gal=plan["volume_gal"],
        target_lb=plan["mass_lb"],
        plan=plan,
        created_by=acting_user,
    )
    note(batch, acting_user=acting_user, why=f"Planned for order {line.order.number}.", new=True)
    return batch


def mark_made(*, batch: Batch, acting_user: User) -> None:
    """The load is in the tank; it leaves only after its release.

    A batch that is being charged must have something of every stock in the tank.
    """
    require_role(acting_user, *MAKERS)
    require_move(batch, Batch.Status.MADE)
    with transaction.atomic():
        if batch.status == Batch.Status.CHARGING:
            missing = ", ".join(step.name for step in not_charged(batch_steps(batch)))
            if missing:
                raise IllegalMove(f"{batch.number} is not complete: {missing} is not charged yet.")
        move(batch, Batch.Status.MADE, acting_user=acting_user)


def release_batch(*, batch: Batch, acting_user: User, why: str = "") -> None:
    """Checked and good to leave. The last release of an order makes the order made.

    A held batch, or one with something in the way (no reading, a reading outside its window, a
    guarantee missed), is released only by a formulator, with a reason.
    """
    require_role(acting_user, *RELEASERS)
    require_move(batch, Batch.Status.RELEASED)
    with transaction.atomic():
        order = _locked_order(batch)
        hindrances = release_hindrances(batch)
        if hindrances or batch.status == Batch.Status.HELD:
            require_formulator(acting_user, hindrances)
            if not why.strip():
                raise BadInput(
                    "Say why the batch may leave all the same.", fields={"why": "Give a reason."}
                )
        data = {"hindrances": hindrances}
        move(batch, Batch.Status.RELEASED, acting_user=acting_user, why=why.strip(), data=data)
        if order.status == Order.Status.PLANNED and _is_complete(order):
            why = "All batches are released."
            move(order, Order.Status.MADE, acting_user=acting_user, why=why)


def cancel_batch(*, batch: Batch, acting_user: User, why: str) -> None:
    """Take a batch back; an order without any live batch is open again."""
    require_role(acting_user, *CANCELLERS)
    require_move(batch, Batch.Status.CANCELLED)
    if not why.strip():
        raise BadInput("Say why the batch is cancelled.", fields={"why": "Give a reason."})
    with transaction.atomic():
        order = _locked_order(batch)
        move(batch, Batch.Status.CANCELLED, acting_user=acting_user, why=why)
        left = Batch.objects.live().filter(order_line__order=order)
        if order.status == Order.Status.PLANNED and not left.exists():
            why = f"{batch.number} was the last batch and is cancelled."
            move(order, Order.Status.OPEN, acting_user=acting_user, why=why)


def require_formulator(acting_user: User, hindrances: Sequence[str]) -> None:
    """Raise NotAllowed, saying what stands in the way, unless the person is a formulator."""
    if not has_role(acting_user, Role.FORMULATOR):
        told = " ".join(hindrances) or "The batch is held."
        raise NotAllowed(f"{told} Only a formulator may release it, with a reason.")


def _locked_order(batch: Batch) -> Order:
    """The batch's order, held until commit: two batches released at once must see each other."""
    orders = Order.objects.select_for_update(of=("self",))
    return orders.get(pk=batch.order_line.order_id)


def _is_complete(order: Order) -> bool:
    """Whether released batches cover every line."""
    return all(
        line.quantity
        <= sum(b.quantity for b in line.batches.all() if b.status == Batch.Status.RELEASED)
        for line in order.lines.prefetch_related("batches")
    )
