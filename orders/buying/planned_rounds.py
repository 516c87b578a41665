"""What season programs that nobody reserved are expected to take: each round still to come, once.

A plan is no booking. Packages follow from acres, rates and what earlier rounds left over, as on the
page of the season; pounds are the recipe's, as a load is planned for what is reserved.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from itertools import groupby
from typing import Final

from django.db.models import OuterRef, Q, QuerySet, Sum

from formulas.engine.field.acres import Wanted, filled, product_gal
from formulas.engine_bridge import load_catalogue
from formulas.models import BaseStock, BlendRevision, RevisionLine
from orders.buying.expected import Booking, Horizon
from orders.models import Package, ProgramProperty, ProgramRound, SeasonProgram
from orders.models.standing_order import UNSERVED
from orders.planning.actions.reservations import needed_lb
from orders.planning.recipe_densities import SavedRecipe, saved_recipes

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
    programs = _programs(horizon)
    # What comes after the last day leaves nothing over for what is before it.
    rounds = ProgramRound.objects.filter(program__in=programs, on__lt=horizon.end)
    rows = _rows(rounds)
    if not rows:
        return []
    acres = _acres(programs)
    revisions = BlendRevision.objects.filter(pk__in=rounds.values("revision")).values("pk")
    recipes = saved_recipes(revisions, load_catalogue(horizon.today))
    found = []
    for _program, some in groupby(rows, key=lambda row: row.program):
        own = list(some)
        wanted = (
            Wanted(
                row.revision,
                _gallons(recipes[row.revision], acres(row), row.rate),
                row.package_gal,
                row.bought,
            )
            for row in own
        )
        found += [
            _planned(row, fill.packages, recipes[row.revision].lb_per_gal)
            for row, fill in zip(own, filled(wanted), strict=True)
            if fill.packages and row.bought is None and horizon.today <= row.day < horizon.end
        ]
    return sorted(found, key=lambda each: (each.day, each.customer, each.program, each.name))


def planned(rounds: Iterable[PlannedRound]) -> dict[int, tuple[Booking, ...]]:
    """What the rounds take of each stock; one sum a day."""
    by_day: dict[tuple[int, date], float] = defaultdict(float)
    for each in rounds:
        by_day[each.revision, each.day] += each.blend_lb
    recipes = defaultdict[int, list[tuple[int, float]]](list)
    lines = RevisionLine.objects.filter(revision__in={revision for revision, _ in by_day})
    for revision, stock, pct in lines.values_list("revision", "stock", "pct"):
        recipes[revision].append((stock, pct))
    wanted: dict[int, dict[date, float]] = defaultdict(lambda: defaultdict(float))
    for (revision, day), blend_lb in by_day.items():
        for stock, pct in recipes[revision]:
            wanted[stock][day] += blend_lb * pct / 100
    return {
        stock: tuple(Booking(day, needed_lb(lb, 100.0)) for day, lb in sorted(days.items()))
        for stock, days in wanted.items()
    }


def plans_of_stock(stock: BaseStock, rounds: Iterable[PlannedRound]) -> list[WantedByPlan]:
    """Those that want a stock, the earliest first."""
    shares = dict(RevisionLine.objects.filter(stock=stock).values_list("revision", "pct"))
    return [
        WantedByPlan(each, needed_lb(each.blend_lb, shares[each.revision]))
        for each in rounds
        if shares.get(each.revision)
    ]


def _programs(horizon: Horizon) -> QuerySet[SeasonProgram]:
    """Programs with a round to come and nothing reserved."""
    coming = ProgramRound.objects.filter(on__gte=horizon.today, on__lt=horizon.end)
    found: QuerySet[SeasonProgram] = SeasonProgram.objects.filter(
        _NOT_RESERVED, pk__in=coming.values("program"), company__active=True
    )
    return found.order_by()


def _rows(rounds: QuerySet[ProgramRound]) -> list[_Row]:
    """As they are sprayed, program by program."""
    served = ~Q(reserved_as__order__status__in=UNSERVED)
    rows = (
        rounds.order_by("program", "on", "pk")
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


def _acres(programs: QuerySet[SeasonProgram]) -> Callable[[_Row], float]:
    """Acres of a round: those of its program, less what it leaves out."""
    treated = ProgramProperty.objects.filter(program__in=programs)
    of_program = dict(treated.order_by().values_list("program").annotate(Sum("property__acres")))
    left_out = dict(
        ProgramRound.left_out.through.objects.filter(
            programround__program__in=programs,
            property__in=ProgramProperty.objects.filter(
                program=OuterRef("programround__program")
            ).values("property"),
        )
        .order_by()
        .values_list("programround")
        .annotate(Sum("property__acres"))
    )
    return lambda row: of_program.get(row.program, 0.0) - left_out.get(row.pk, 0.0)


def _gallons(recipe: SavedRecipe, acres: float, rate: float) -> float:
    if not recipe.n_pct > 0:
        return 0.0
    return product_gal(acres, rate, n_pct=recipe.n_pct, density_lb_per_gal=recipe.lb_per_gal)


def _planned(row: _Row, packages: int, lb_per_gal: float) -> PlannedRound:
    weighs = packages * row.package_gal * lb_per_gal
    return PlannedRound(row.customer, row.title, row.name, row.day, row.revision, packages, weighs)
