"""What season programs that nobody reserved are expected to take: each round still to come, once.

A plan is no booking. Packages follow from acres, rates and what earlier rounds left over, as on the
page of the season; pounds are the recipe's, as a load is planned for what is reserved.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from itertools import groupby
from typing import Final

from django.db.models import F, Q, QuerySet, Sum

from formulas.engine.field.acres import Wanted, filled, product_gal
from formulas.engine_bridge import load_catalogue
from formulas.models import BaseStock, BlendRevision, RevisionLine
from orders.buying.expected import ZERO, Booking, Horizon
from orders.models import Package, ProgramProperty, ProgramRound, SeasonProgram
from orders.models.standing_order import UNSERVED
from orders.planning.actions.reservations import needed_lb
from orders.planning.recipe_density import recipe_density_lb_per_gal

#: A program that holds packages is counted by its standing order.
_NOT_RESERVED: Final = Q(standing_order__isnull=True) | Q(standing_order__ended_at__isnull=False)


@dataclass(frozen=True, slots=True)
class PlannedRound:
    """A round that nobody reserved, with what its packages weigh."""

    customer: str
    program: str
    name: str
    day: date
    revision: int
    packages: int
    blend_lb: float


@dataclass(frozen=True, slots=True)
class WantedByPlan:
    """Pounds of a stock that such a round would take."""

    round: PlannedRound
    lb: Decimal


@dataclass(frozen=True, slots=True)
class _Row:
    """A round as it was read; ``bought`` are the packages of its order, None without one."""

    pk: int
    program: int
    customer: str
    title: str
    name: str
    day: date
    revision: int
    rate: float
    package_gal: float
    bought: int | None


def planned_rounds(horizon: Horizon) -> list[PlannedRound]:
    """Rounds from today to the end that need packages and hold none; queries do not grow.

    A day that is over can be reserved no more, so such a round is expected no more; what it would
    have left over still serves the next, as on the page.
    """
    rows = _rows(horizon)
    if not rows:
        return []
    acres = _acres({row.program for row in rows})
    gallons = _gallons_of_nitrogen({row.revision for row in rows}, horizon.today)
    found = []
    for _program, some in groupby(rows, key=lambda row: row.program):
        own = list(some)
        wanted = (
            Wanted(
                row.revision,
                gallons[row.revision].of(acres(row), row.rate),
                row.package_gal,
                row.bought,
            )
            for row in own
        )
        found += [
            _planned(row, fill.packages, gallons[row.revision].lb_per_gal)
            for row, fill in zip(own, filled(wanted), strict=True)
            if fill.packages and row.bought is None and horizon.today <= row.day < horizon.end
        ]
    return sorted(found, key=lambda each: (each.day, each.customer, each.program, each.name))


def planned(rounds: Iterable[PlannedRound]) -> dict[int, tuple[Booking, ...]]:
    """What the rounds take of each stock; one sum a day and recipe, like those that are booked."""
    by_day: dict[tuple[int, date], float] = defaultdict(float)
    for each in rounds:
        by_day[each.revision, each.day] += each.blend_lb
    recipes = defaultdict[int, list[tuple[int, float]]](list)
    lines = RevisionLine.objects.filter(revision__in={revision for revision, _ in by_day})
    for revision, stock, pct in lines.values_list("revision", "stock", "pct"):
        recipes[revision].append((stock, pct))
    found: dict[int, dict[date, Decimal]] = defaultdict(dict)
    for (revision, day), blend_lb in by_day.items():
        for stock, pct in recipes[revision]:
            found[stock][day] = found[stock].get(day, ZERO) + needed_lb(blend_lb, pct)
    return {
        stock: tuple(Booking(day, lb) for day, lb in sorted(days.items()))
        for stock, days in found.items()
    }


def plans_of_stock(stock: BaseStock, rounds: Iterable[PlannedRound]) -> list[WantedByPlan]:
    """Those that want a stock, the earliest first."""
    shares = dict(RevisionLine.objects.filter(stock=stock).values_list("revision", "pct"))
    return [
        WantedByPlan(each, needed_lb(each.blend_lb, shares[each.revision]))
        for each in rounds
        if shares.get(each.revision)
    ]


def _rows(horizon: Horizon) -> list[_Row]:
    """All rounds of programs with one to come and nothing reserved, as they are sprayed."""
    coming = ProgramRound.objects.filter(on__gte=horizon.today, on__lt=horizon.end)
    programs: QuerySet[SeasonProgram] = SeasonProgram.objects.filter(
        _NOT_RESERVED, pk__in=coming.values("program"), company__active=True
    )
    served = ~Q(reserved_as__order__status__in=UNSERVED)
    rows = (
        ProgramRound.objects.filter(program__in=programs)
        .order_by("program", "on", "pk")
        .annotate(bought=Sum("reserved_as__order__lines__quantity", filter=served))
        .values_list(
            "pk", "program", "program__company__name", "program__name", "program__year", "name",
            "on", "revision", "n_rate_lb_per_1000sqft", "program__package__kind",
            "program__package__fill_gal", "bought",
        )
    )  # fmt: skip
    return [
        _Row(
            pk, program, customer, f"{title} {year}", name, on, revision, rate,
            1.0 if kind == Package.Kind.BULK else float(fill_gal), bought,
        )
        for pk, program, customer, title, year, name, on, revision, rate, kind, fill_gal, bought
        in rows
    ]  # fmt: skip


def _acres(programs: set[int]) -> Callable[[_Row], float]:
    """Acres of a round: those of its program, less what it leaves out."""
    of_program: dict[int, dict[int, float]] = defaultdict(dict)
    treated = ProgramProperty.objects.filter(program__in=programs)
    for program, each, acres in treated.values_list("program", "property", "property__acres"):
        of_program[program][each] = acres
    left_out = defaultdict[int, set[int]](set)
    pairs = ProgramRound.left_out.through.objects.filter(programround__program__in=programs)
    for rnd, each in pairs.values_list("programround", "property"):
        left_out[rnd].add(each)
    return lambda row: sum(
        acres
        for each, acres in of_program[row.program].items()
        if each not in left_out.get(row.pk, ())
    )


@dataclass(frozen=True, slots=True)
class _Recipe:
    """Nitrogen and weight of a gallon of today."""

    n_pct: float
    lb_per_gal: float

    def of(self, acres: float, rate: float) -> float:
        if not self.n_pct > 0:
            return 0.0
        return product_gal(acres, rate, n_pct=self.n_pct, density_lb_per_gal=self.lb_per_gal)


def _gallons_of_nitrogen(revisions: set[int], today: date) -> Mapping[int, _Recipe]:
    stocks = {stock.code: stock for stock in load_catalogue(today).stocks}
    rows = (
        BlendRevision.objects.filter(pk__in=revisions)
        .defer("wish", "answer")
        .annotate(n_pct=F("answer__analysis__N"))
        .prefetch_related("lines__stock", "measured_densities__reading__set_aside")
    )
    found = {}
    for row in rows:
        try:
            weighs = recipe_density_lb_per_gal(row, stocks)
        except KeyError:  # a stock that is retired or has no cost
            weighs = row.density_lb_per_gal
        found[row.pk] = _Recipe(row.n_pct or 0.0, weighs)
    return found


def _planned(row: _Row, packages: int, lb_per_gal: float) -> PlannedRound:
    weighs = packages * row.package_gal * lb_per_gal
    return PlannedRound(row.customer, row.title, row.name, row.day, row.revision, packages, weighs)
