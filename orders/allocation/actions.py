"""Accepting a stock plan, and taking an order line back to the recipe its customer accepted."""

from typing import Final

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from blendshop.accounts.models import User
from blendshop.errors import BadInput, ChangedMeanwhile, IllegalMove
from blendshop.roles import Role, require_role
from formulas.blends.actions import save_recipe_for_order
from formulas.engine_bridge import Catalogue, load_catalogue
from formulas.models import BlendRevision
from orders.allocation.plan_state import plan_state
from orders.allocation.planning_work import newest_plan
from orders.allocation.wording import order_in_words
from orders.frozen.stock_plan import PlannedLine, PlannedOrder
from orders.inventory.levels import RESERVING
from orders.models import AcceptedStockPlan, Order, OrderLine, PlannedRecipe
from orders.ordering.notices import tell_unreviewed
from orders.planning.actions.reservations import reserve_again
from orders.planning.planned_recipes import making_revision
from orders.records.moves import note
from orders.records.numbering import next_number

PLAN_PREFIX: Final = "SP"
ACCEPTERS: Final = (Role.FORMULATOR, Role.OFFICE)


def accept_stock_plan(*, digest: str, acting_user: User) -> AcceptedStockPlan:
    """Accept the plan that was shown with this digest.

    Changed recipes become revisions for their order only, which later batches follow; prices and
    what customers accepted stay. Reservations follow the recipes. Every order of the plan gets
    an event. Accepting the same again changes nothing. ChangedMeanwhile when it is not the plan
    found last, or when anything it was worked out of has changed since.
    """
    require_role(acting_user, *ACCEPTERS)
    today = timezone.localdate()
    with transaction.atomic():
        # Two people at once: the second waits here and then finds another state of things, or
        # the same plan accepted.
        open_orders = Order.objects.select_for_update(of=("self",)).filter(status__in=RESERVING)
        orders = {order.pk: order for order in open_orders.order_by("pk")}
        found = newest_plan()
        if found is None or not found.orders:
            raise IllegalMove(_("There is nothing to plan."))
        if found.digest != digest or found.state != plan_state(today):
            raise ChangedMeanwhile(
                _(
                    "Orders, stock or recipes changed since this plan was worked out; "
                    "plan again and look at the new one."
                )
            )
        accepted: AcceptedStockPlan | None = AcceptedStockPlan.objects.order_by("-pk").first()
        if accepted is not None and accepted.digest == digest:
            return accepted
        plan: AcceptedStockPlan = AcceptedStockPlan.objects.create(
            number=next_number(PLAN_PREFIX),
            digest=digest,
            shown=found.covered(),
            by=acting_user,
            who=str(acting_user),
        )
        catalogue = load_catalogue(today)
        for row in found.orders:
            _follow(row, orders[row.order_id], plan, catalogue, acting_user)
    return plan


def restore_accepted_recipe(*, line: OrderLine, why: str, acting_user: User) -> PlannedRecipe:
    """Have a line made by the revision its customer accepted again, while it has no batch."""
    require_role(acting_user, *ACCEPTERS)
    if not why.strip():
        raise BadInput(_("Say why the line goes back."), fields={"why": _("Give a reason.")})
    with transaction.atomic():
        order = Order.objects.select_for_update(of=("self",)).get(pk=line.order_id)
        now = making_revision(line)
        if now.pk == line.revision_id:
            raise IllegalMove(_("{line} is made by the accepted recipe already.").format(line=line))
        if order.status not in RESERVING or line.parts.live().exists():
            raise IllegalMove(
                _("{line} has batches; they keep the recipe they were planned with.").format(
                    line=line
                )
            )
        told = f"Line {line.position} goes back from revision {now.number}: {why.strip()}"
        note(order, acting_user=acting_user, why=told)
        return _plan_recipe(line, line.revision, None, why.strip(), acting_user)


def _follow(
    row: PlannedOrder,
    order: Order,
    plan: AcceptedStockPlan,
    catalogue: Catalogue,
    acting_user: User,
) -> None:
    saved = {
        line.position: _save(line, plan, catalogue, acting_user)
        for line in row.lines
        if line.is_changed
    }
    why = f"Stock plan {plan.number} accepted. {order_in_words(row)}"
    data = {
        "stock_plan": plan.number,
        "revisions": {str(position): revision.pk for position, revision in saved.items()},
    }
    note(order, acting_user=acting_user, why=why, data=data)
    tell_unreviewed(order, by=acting_user)


def _save(
    row: PlannedLine, plan: AcceptedStockPlan, catalogue: Catalogue, acting_user: User
) -> BlendRevision:
    line = OrderLine.objects.select_related("order").get(pk=row.line_id)
    planned_by = BlendRevision.objects.select_related("blend").get(pk=row.revision_id)
    told = f"Stock plan {plan.number}: for order {line.order.number} only"
    revision = save_recipe_for_order(
        acting_user=acting_user,
        revision=planned_by,
        shares=row.shares or {},
        catalogue=catalogue,
        note=f"{told}, in place of revision {planned_by.number}.",
    )
    _plan_recipe(line, revision, plan, told, acting_user)
    return revision


def _plan_recipe(
    line: OrderLine,
    revision: BlendRevision,
    plan: AcceptedStockPlan | None,
    why: str,
    acting_user: User,
) -> PlannedRecipe:
    planned: PlannedRecipe = PlannedRecipe.objects.create(
        order_line=line,
        revision=revision,
        plan=plan,
        why=why[:400],
        by=acting_user,
        who=str(acting_user),
    )
    reserve_again(line, revision)
    return planned
