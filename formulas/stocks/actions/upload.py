"""Writing an uploaded catalogue table: all of it or nothing, checked again at that moment."""

from typing import Final

from django.db import transaction
from django.utils.translation import gettext as _

from blendshop.accounts.models import User
from blendshop.errors import BadInput, ChangedMeanwhile
from blendshop.roles import Role, has_role, require_role
from blendshop.saving import name_in_history, save_valid
from formulas.models import AnalysisFigure, BaseStock, MetalFigure, StockCost
from formulas.repricing.standing import costs_changed
from formulas.stocks.actions.stocks import hold_stocks, traits_kept_as_one_change, write_cost
from formulas.stocks.cost_moves import ask_about
from formulas.stocks.table.plan import Plan, PlannedFigure, PlannedMetal, PlannedStock, plan_upload

#: Who uploads the table and downloads it; only a formulator more than costs.
UPLOADS: Final = (Role.FORMULATOR, Role.OFFICE)


def may_change_costs_only(user: User) -> bool:
    """Whether of the table only the costs are this person's."""
    return not has_role(user, Role.FORMULATOR)


def plan_for(user: User, text: str) -> Plan:
    """What the table would do, uploaded by this person; nothing is written."""
    return plan_upload(text, costs_only=may_change_costs_only(user))


def apply_upload(*, acting_user: User, text: str, seen_digest: str, sure_of: str = "") -> Plan:
    """Do what the preview showed, in one transaction.

    ``seen_digest`` is the digest of the plan that was looked at: ChangedMeanwhile if the same
    table would do something else now, BadInput if it has errors, LargeCostMoves if a cost moves far
    and ``sure_of`` does not confirm it. The office uploads costs alone.
    """
    require_role(acting_user, *UPLOADS)
    with transaction.atomic():
        hold_stocks()
        plan = plan_for(acting_user, text)
        if plan.errors:
            raise BadInput(_("The table has lines that need correcting; nothing was written."))
        if plan.digest != seen_digest:
            raise ChangedMeanwhile(
                _(
                    "The catalogue changed since the preview; look at the changes again. "
                    "Nothing was written."
                )
            )
        ask_about(plan.cost_moves, sure_of)
        for stock in plan.stocks:
            _write(stock, acting_user)
        if any(stock.costs for stock in plan.stocks):
            costs_changed.send(StockCost, asked_by=acting_user)
    return plan


def _write(stock: PlannedStock, acting_user: User) -> None:
    if stock.is_new:
        save_valid(stock.row, acting_user)
    if stock.traits is not None:
        with traits_kept_as_one_change(stock.row):
            stock.row.traits.set(stock.traits)
    if stock.traits is not None or (stock.row_changed and not stock.is_new):
        save_valid(stock.row, acting_user)
    for figure in stock.figures:
        _write_figure(stock.row, figure, acting_user)
    for metal in stock.metals:
        _write_metal(stock.row, metal, acting_user)
    for cost in stock.costs:
        write_cost(
            acting_user=acting_user,
            stock=stock.row,
            amount=cost.amount,
            unit=cost.unit,
            effective_from=cost.effective_from,
            note=cost.note,
        )


def _write_figure(row: BaseStock, figure: PlannedFigure, acting_user: User) -> None:
    existing = AnalysisFigure.objects.filter(stock=row, key=figure.key).first()
    if figure.pct is None:
        return _take_away(existing, acting_user)
    current = existing or AnalysisFigure(stock=row, key=figure.key)
    current.pct, current.source, current.mark = figure.pct, figure.source, figure.mark
    save_valid(current, acting_user)


def _write_metal(row: BaseStock, metal: PlannedMetal, acting_user: User) -> None:
    existing = MetalFigure.objects.filter(stock=row, metal=metal.metal).first()
    if metal.ppm is None:
        return _take_away(existing, acting_user)
    current = existing or MetalFigure(stock=row, metal=metal.metal)
    current.ppm, current.measured_on = metal.ppm, metal.measured_on
    current.source, current.mark = metal.source, metal.mark
    save_valid(current, acting_user)


def _take_away(figure: AnalysisFigure | MetalFigure | None, acting_user: User) -> None:
    if figure is not None:
        name_in_history(figure, acting_user)
        figure.delete()
