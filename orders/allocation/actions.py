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
from orders.allocation.page import LineRow, OrderRow, stock_plan_page
from orders.inventory.levels import RESERVING
from orders.models import AcceptedStockPlan, Order, OrderLine, PlannedRecipe
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
    an event. Accepting the same again changes nothing. ChangedMeanwhile when the plan of now is
    another one.
    """
    require_role(acting_user, *ACCEPTERS)
    today = timezone.localdate()
    with transaction.atomic():
        # Two people at once: the second waits here and then finds another plan, or the same
        # one accepted.
        open_orders = Order.objects.select_for_update(of=("self",)).filter(status__in=RESERVING)
        list(open_orders.order_by("pk").values_list("pk"))
        page = stock_plan_page(today)
        if not page.digest:
            raise IllegalMove(_("There is nothing to plan."))
        if page.digest != digest:
            raise ChangedMeanwhile(
                _(
                    "Orders, stock or recipes changed since this plan was shown; "
                    "look at the new one."
                )
            )
        if page.accepted is not None and page.is_accepted:
            return page.accepted
        plan: AcceptedStockPlan = AcceptedStockPlan.objects.create(
            number=next_number(PLAN_PREFIX),
            digest=digest,
            shown=page.shown,
            by=acting_user,
            who=str(acting_user),
        )
        catalogue = load_catalogue(today)
        for row in page.orders:
            _follow(row, plan, catalogue, acting_user)
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
    row: OrderRow, plan: AcceptedStockPlan, catalogue: Catalogue, acting_user: User
) -> None:
    saved = {
        line.line.position: _save(line, plan, catalogue, acting_user)
        for line in row.lines
        if line.is_changed
    }
    why = f"Stock plan {plan.number} accepted. {row.summary}"
    data = {
        "stock_plan": plan.number,
        "revisions": {str(position): revision.pk for position, revision in saved.items()},
    }
    note(row.order, acting_user=acting_user, why=why, data=data)


def _save(
    row: LineRow, plan: AcceptedStockPlan, catalogue: Catalogue, acting_user: User
) -> BlendRevision:
    told = f"Stock plan {plan.number}: for order {row.line.order.number} only"
    revision = save_recipe_for_order(
        acting_user=acting_user,
        revision=row.candidate.revision,
        shares=row.shares or {},
        catalogue=catalogue,
        note=f"{told}, in place of revision {row.candidate.revision.number}.",
    )
    _plan_recipe(row.line, revision, plan, told, acting_user)
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
