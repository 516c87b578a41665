"""Adopting a measured spread: from then on margins take it for the stock."""

from __future__ import annotations

from django.conf import settings
from django.db import transaction
from django.utils.translation import gettext as _
from django.utils.translation import override

from blendshop.accounts.models import User
from blendshop.errors import ChangedMeanwhile, IllegalMove
from blendshop.figures.readers import house
from blendshop.roles import Role, require_role
from blendshop.saving import save_valid
from formulas.models import BaseStock
from orders.drift.page import kept_figures, stock_series
from orders.drift.series import Series, measured_of
from orders.models import StockSpread


def adopt_spread(
    *, stock: BaseStock, supplier: str | None, seen: tuple[float, float], acting_user: User
) -> StockSpread:
    """Write the spread measured from a stock's certificates, of one supplier or (None) of all.

    ``seen`` is what the person saw: strength and total N, percent. ChangedMeanwhile where the
    certificates say otherwise by now, IllegalMove where there are too few. What is adopted
    already is not written again. The row's history keeps who and when, its source from how many.
    """
    require_role(acting_user, Role.FORMULATOR)
    with transaction.atomic():
        BaseStock.objects.select_for_update().get(pk=stock.pk)
        series = stock_series(stock, supplier)
        measured = measured_of(series)
        if measured is None:
            raise IllegalMove(_("There are too few certificates to measure a spread from."))
        strength, total_n = kept_figures(measured)
        if (strength, total_n) != seen:
            raise ChangedMeanwhile(
                _("There are other certificates by now. Look at the spread again.")
            )
        row = StockSpread.objects.filter(stock=stock).first() or StockSpread(stock=stock)
        source = measured_source(stock, supplier, series, measured.count)
        if row.pk and (row.strength_rsd_pct, row.total_n_rsd_pct, row.source) == (
            strength,
            total_n,
            source,
        ):
            return row
        row.strength_rsd_pct, row.total_n_rsd_pct, row.source = strength, total_n, source
        return save_valid(row, acting_user)


def measured_source(
    stock: BaseStock, supplier: str | None, series: list[Series], count: int
) -> str:
    """From how many certificates of what, and of which days; in the words of the house."""
    days = [point.on for each in series if each.is_assay for point in each.points]
    with override(settings.LANGUAGE_CODE):
        who = _("all suppliers") if supplier is None else supplier or _("no supplier named")
        return _("measured from {count} certificates of {stock}, {who}, {first} to {last}").format(
            count=count,
            stock=stock.code,
            who=who[:80],
            first=house().date(min(days)),
            last=house().date(max(days)),
        )
