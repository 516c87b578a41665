"""What to buy of each stock: how much, from whom, and by when it has to be ordered."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from django.db.models import prefetch_related_objects

from formulas.models import BaseStock
from orders.buying import needs
from orders.buying.expected import (
    ZERO,
    Arrival,
    Booking,
    Horizon,
    Supply,
    Week,
    runs_out_on,
    weeks_of,
)
from orders.buying.in_parts import Part, Sold, in_parts
from orders.buying.needs import Growth
from orders.buying.planned_rounds import PlannedRound, planned, planned_rounds
from orders.inventory.levels import StockLevel, from_the_main, stock_levels
from orders.models import (
    ClosedDay,
    PlantProfile,
    StockLot,
    StockPurchase,
    StockStorage,
    SupplierTerms,
)
from orders.planning.working_days import WorkingDays


@dataclass(frozen=True, slots=True)
class SuppliedWeek:
    """A week beside what comes in during it; short where more is expected to be taken by its end
    than there is then."""

    week: Week
    comes_lb: Decimal
    is_short: bool


@dataclass(frozen=True, slots=True)
class Proposal:
    """One stock over the horizon; masses in lb. ``terms`` is None while nobody entered any.

    ``parts`` are the purchases, the first in front: each has to be in the plant before what runs
    out is due, by the days that a load takes to be made and released. ``storage_lb`` is None while
    nobody said how much there is room for.
    """

    stock: BaseStock
    level: StockLevel
    horizon: Horizon
    weeks: tuple[Week, ...]
    bookings: tuple[Booking, ...]
    terms: SupplierTerms | None
    runs_out_on: date | None
    supply: Supply
    purchases: tuple[StockPurchase, ...]
    storage_lb: Decimal | None
    parts: tuple[Part, ...]

    @property
    def needed_on(self) -> date | None:
        """When the first purchase has to be in the plant."""
        return self.parts[0].needed_on if self.parts else None

    @property
    def supplied_weeks(self) -> tuple[SuppliedWeek, ...]:
        found, before = [], self.supply.usable_lb
        for week in self.weeks:
            there = self.supply.by(week.first_day + timedelta(days=6))
            found.append(SuppliedWeek(week, there - before, week.expected > there))
            before = there
        return tuple(found)

    @property
    def on_the_way_lb(self) -> Decimal:
        """What was ordered and comes within the horizon."""
        return sum((each.lb for each in self.supply.arrivals), ZERO)

    @property
    def comes_too_late(self) -> bool:
        """Whether what is on the way is enough and yet comes after it has run out."""
        return self.runs_out_on is not None and not self.short_lb

    @property
    def is_of_unknown_storage(self) -> bool:
        return bool(self.parts) and self.storage_lb is None

    @property
    def least(self) -> Decimal:
        return self.weeks[-1].least

    @property
    def expected(self) -> Decimal:
        return self.weeks[-1].expected

    @property
    def most(self) -> Decimal:
        return self.weeks[-1].most

    @property
    def last_year(self) -> Decimal:
        return sum((week.last_year for week in self.weeks), ZERO)

    @property
    def planned(self) -> Decimal:
        """What season programs take that nobody has reserved."""
        return sum((week.planned for week in self.weeks), ZERO)

    @property
    def short_lb(self) -> Decimal:
        """What is expected to be lacking at the end of the horizon."""
        return self._short_of(self.expected)

    @property
    def short_at_least(self) -> Decimal:
        return self._short_of(self.least)

    @property
    def short_at_most(self) -> Decimal:
        return self._short_of(self.most)

    @property
    def packs(self) -> int:
        """Whole steps of the supplier; 0 where nothing is lacking or no terms are known."""
        return sum(part.packs for part in self.parts)

    @property
    def buy_lb(self) -> Decimal:
        """What to buy: as the supplier sells it, without terms just what is lacking."""
        return sum((part.lb for part in self.parts), ZERO)

    @property
    def is_least_order(self) -> bool:
        """Whether the supplier's least order, and not the need, says how much."""
        return self.terms is not None and ZERO < self.short_lb < self.terms.least_order_lb

    @property
    def buy_gal(self) -> float:
        return self.gal_of(self.buy_lb)

    def gal_of(self, lb: Decimal) -> float:
        return float(lb) / self.stock.density_at_60_f()

    @property
    def order_by(self) -> date | None:
        """The last day to order; without terms the day it is needed, as no lead time is known."""
        return self.order_part_by(self.parts[0]) if self.parts else None

    def order_part_by(self, part: Part) -> date:
        lead_days = self.terms.lead_days if self.terms is not None else 0
        return part.needed_on - timedelta(days=lead_days)

    @property
    def is_due(self) -> bool:
        """Whether it has to be ordered today."""
        return self.order_by is not None and self.order_by <= self.horizon.today

    @property
    def days_late(self) -> int:
        """How many days after it is needed it comes if it is ordered today."""
        return max(0, (self.horizon.today - self.order_by).days) if self.order_by else 0

    def _short_of(self, lb: Decimal) -> Decimal:
        return max(ZERO, lb - self.level.usable - self.on_the_way_lb)


@dataclass(frozen=True, slots=True)
class Buying:
    """All stocks: to buy, the most urgent first, and covered, the least surely covered first."""

    horizon: Horizon
    growth: Growth
    to_buy: tuple[Proposal, ...]
    covered: tuple[Proposal, ...]
    keeps_lots: bool
    on_the_way: tuple[StockPurchase, ...]
    plans: tuple[PlannedRound, ...]

    @property
    def due(self) -> tuple[Proposal, ...]:
        return tuple(each for each in self.to_buy if each.is_due)

    @property
    def of_unknown_storage(self) -> tuple[Proposal, ...]:
        return tuple(each for each in self.to_buy if each.is_of_unknown_storage)

    @property
    def too_late(self) -> tuple[Proposal, ...]:
        """Stocks that run out before what is on the way comes."""
        return tuple(each for each in self.covered if each.comes_too_late)

    @property
    def without_terms(self) -> tuple[Proposal, ...]:
        return tuple(each for each in self.to_buy if each.terms is None)

    def of_stock(self, code: str) -> Proposal | None:
        return next(
            (each for each in (*self.to_buy, *self.covered) if each.stock.code == code), None
        )


def buying(today: date, weeks: int) -> Buying:
    """Every stock that was received, is booked, planned for or was charged a year ago.

    Nothing is proposed while the plant keeps no lots at all: it knows nothing of its stock then.
    """
    horizon = Horizon(today, weeks)
    growth = needs.growth(today)
    on_the_way = _on_the_way()
    plans = tuple(planned_rounds(horizon))
    proposals = _proposals(horizon, growth, on_the_way, plans)
    keeps_lots = StockLot.objects.exists()
    to_buy = [each for each in proposals if each.short_lb and keeps_lots]
    # Density and cost are asked of what is bought alone: of a large plant few stocks are.
    prefetch_related_objects([each.stock for each in to_buy], *BaseStock.objects.lookups_on(today))
    covered = [each for each in proposals if not each.short_lb]
    covered.sort(
        key=lambda each: (
            not each.comes_too_late, -each.short_at_most, not each.expected, each.stock.code
        )
    )  # fmt: skip
    return Buying(
        horizon=horizon,
        growth=growth,
        to_buy=tuple(sorted(to_buy, key=_urgency)),
        covered=tuple(covered),
        keeps_lots=keeps_lots,
        on_the_way=on_the_way,
        plans=plans,
    )


def _on_the_way() -> tuple[StockPurchase, ...]:
    """What was ordered and has not come, the first to come in front."""
    rows = StockPurchase.objects.on_the_way().select_related("stock")
    return tuple(rows.order_by("expected_on", "pk"))


def _proposals(
    horizon: Horizon,
    growth: Growth,
    on_the_way: Iterable[StockPurchase],
    plans: Iterable[PlannedRound],
) -> list[Proposal]:
    levels = {level.stock.pk: level for level in stock_levels(horizon.today)}
    ordered = needs.ordered({pk: list(level.needs) for pk, level in levels.items()})
    standing = needs.standing(horizon)
    of_plans = planned(plans)
    last_year = needs.charged_a_year_ago(horizon)
    main = from_the_main()
    stocks = BaseStock.objects.order_by("code").filter(
        pk__in=(levels.keys() | standing.keys() | of_plans.keys() | last_year.keys()) - main
    )
    preferred = _preferred_terms()
    coming = defaultdict[int, list[StockPurchase]](list)
    for purchase in on_the_way:
        coming[purchase.stock_id].append(purchase)
    storage = dict(StockStorage.objects.values_list("stock", "most_lb"))
    calendar, days = _making()
    found = []
    for stock in stocks:
        of_orders, of_standing = ordered.get(stock.pk, ()), standing.get(stock.pk, ())
        level = levels.get(stock.pk) or StockLevel(stock, ZERO, ZERO, ZERO, ())
        of_weeks = weeks_of(
            horizon,
            ordered=of_orders,
            standing=of_standing,
            planned=of_plans.get(stock.pk, ()),
            last_year=last_year.get(stock.pk, {}),
            growth=growth.factor,
        )
        bookings = _in_order(of_orders, of_standing)
        supply = Supply(
            horizon.today,
            level.usable,
            tuple(
                Arrival(each.expected_on, each.lb)
                for each in coming[stock.pk]
                if each.expected_on < horizon.end
            ),
        )
        terms = preferred.get(stock.pk)
        found.append(
            Proposal(
                stock=stock,
                level=level,
                horizon=horizon,
                weeks=of_weeks,
                bookings=bookings,
                terms=terms,
                runs_out_on=runs_out_on(of_weeks, bookings, supply),
                supply=supply,
                purchases=tuple(coming[stock.pk]),
                storage_lb=storage.get(stock.pk),
                parts=in_parts(
                    of_weeks,
                    bookings,
                    supply,
                    sold=Sold(terms.pack_lb, terms.packs_for) if terms else None,
                    storage_lb=storage.get(stock.pk),
                    unusable_lb=level.on_hand - level.usable,
                    needed_before=lambda day: calendar.before(day, days),
                ),
            )
        )
    return found


def _urgency(each: Proposal) -> tuple[date, str]:
    return each.order_by or each.horizon.end, each.stock.code


def _in_order(*bookings: Iterable[Booking]) -> tuple[Booking, ...]:
    together = [each for some in bookings for each in some]
    return tuple(sorted(together, key=lambda each: (each.day, each.order_number)))


def _preferred_terms() -> Mapping[int, SupplierTerms]:
    """The terms each stock is bought by: the preferred ones, without any the first."""
    rows = SupplierTerms.objects.order_by("preferred", "-pk")
    return {row.stock_id: row for row in rows}


def _making() -> tuple[WorkingDays, int]:
    """The plant's working days, and how many of them a load needs to be made and released."""
    profile = PlantProfile.load()
    closed = frozenset(ClosedDay.objects.values_list("day", flat=True))
    calendar = WorkingDays(frozenset(map(int, profile.working_weekdays)), closed)
    return calendar, profile.release_working_days + 1
