"""What a season comes to: gallons and packages of each round, totes a month, dollars an acre.

A released round costs what its order does; each other is priced as the order it will be when it is
released, at today's costs and terms.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from typing import Final

from django.db.models import prefetch_related_objects

from blendshop.errors import BadInput
from blendshop.money import ZERO, money
from formulas.engine.field.acres import Filled, Wanted, filled, product_gal
from formulas.engine_bridge import Catalogue, exact
from formulas.models import BlendRevision
from orders.models import (
    Order,
    Package,
    ProgramRound,
    Property,
    SeasonProgram,
    StandingRound,
)
from orders.planning.default_load import tanks_in_use
from orders.pricing import PriceBreakdown
from orders.quoting.price import price_each
from orders.quoting.requests import PREFETCHED, PricedRequest, request_for
from orders.season.law import holds_nitrogen
from orders.season.reader_units import area_unit, shown

#: More rounds than this are not a season but an accident.
MOST_ROUNDS: Final = 24


@dataclass(frozen=True, slots=True)
class Bought:
    """What a round's packages cost, deposit left out, and each gallon of them."""

    cost: Decimal
    per_gal: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class RoundFigures:
    """One round: acres, gallons, whole packages, what is left of its blend after it.

    ``price`` is of its packages as an order of their own today, of a released round None;
    ``bought`` is what they cost by it or by the order; ``problem`` why nobody knows.
    ``sprayed_cost`` is the blend's price per gallon times the gallons sprayed.
    """

    round: ProgramRound
    treated: tuple[Property, ...]
    acres: float
    gal: float
    fill: Filled
    request: PricedRequest | None = None
    price: PriceBreakdown | None = None
    bought: Bought | None = None
    problem: str = ""
    sprayed_cost: Decimal | None = None

    @property
    def packages(self) -> int:
        return self.fill.packages

    @property
    def cost(self) -> Decimal | None:
        """What is bought for it, deposit left out; nothing where leftovers are enough."""
        if not self.packages:
            return ZERO
        return None if self.bought is None else self.bought.cost

    @property
    def cost_per_acre(self) -> Decimal | None:
        """Of what is sprayed, not of what stays in the last package."""
        if self.sprayed_cost is None or not self.acres:
            return None
        return money(self.sprayed_cost / exact(self.acres))

    @property
    def cost_per_area(self) -> Decimal | None:
        """The same per acre or hectare, as its reader measures."""
        if self.sprayed_cost is None or not self.acres:
            return None
        return money(self.sprayed_cost / shown(area_unit(), self.acres))

    @property
    def mass_lb(self) -> float:
        """What its packages weigh: the load they are priced for, without a price the recipe."""
        if self.price is not None:
            return float(self.price.mass_lb)
        package = self.round.program.package
        gal = self.packages * (1.0 if package.is_bulk else float(package.fill_gal))
        return gal * (self.request or self.round.revision).density_lb_per_gal

    @property
    def gal_per_acre(self) -> float:
        return self.gal / self.acres if self.acres else 0.0

    @property
    def reserved(self) -> StandingRound | None:
        return self.round.reserved_as

    @property
    def differs_from_reserved(self) -> bool:
        """Whether today's acres ask for another number of packages than waits to be released."""
        reserved = self.reserved
        if reserved is None or reserved.released_as:
            return False
        return reserved.quantity != self.packages


@dataclass(frozen=True, slots=True)
class MonthFigures:
    """Packages of one month, by blend."""

    month: date
    packages: int
    blends: tuple[tuple[BlendRevision, int], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SeasonFigures:
    """The whole program. ``cost`` is None as soon as one round has no price."""

    package: Package
    rounds: tuple[RoundFigures, ...]
    months: tuple[MonthFigures, ...]
    acres: float
    cost: Decimal | None
    over_cost: Decimal | None

    @property
    def packages(self) -> int:
        return sum(each.packages for each in self.rounds)

    @property
    def cost_per_acre(self) -> Decimal | None:
        """All that is bought over all acres of the program."""
        if self.cost is None or not self.acres:
            return None
        return money(self.cost / exact(self.acres))

    @property
    def cost_per_area(self) -> Decimal | None:
        """The same per acre or hectare, as its reader measures."""
        if self.cost is None or not self.acres:
            return None
        return money(self.cost / shown(area_unit(), self.acres))

    def to_come(self, today: date) -> tuple[RoundFigures, ...]:
        """Rounds that need packages from today on and are not released."""
        return tuple(
            each
            for each in self.rounds
            if each.packages and each.round.on >= today and not each.round.released_as
        )

    @property
    def problems(self) -> tuple[str, ...]:
        return tuple(dict.fromkeys(each.problem for each in self.rounds if each.problem))

    @property
    def shown(self) -> str:
        """Stands for the packages that are shown, so that no others are reserved."""
        return ",".join(f"{each.round.pk}:{each.packages}" for each in self.rounds)


def rounds_of(program: SeasonProgram) -> list[ProgramRound]:
    """By day, with blends, what is read of them to price them, and what is reserved."""
    rounds = program.rounds.select_related(
        "revision__blend", "reserved_as__standing_order", "reserved_as__order"
    ).prefetch_related("left_out", "reserved_as__order__lines")
    found = list(rounds.order_by("on", "pk")[:MOST_ROUNDS])
    prefetch_related_objects([each.revision for each in found], *PREFETCHED)
    for each in found:
        each.program = program
    return found


def properties_of(program: SeasonProgram) -> list[Property]:
    return list(program.properties.order_by("name", "pk"))


def treated_in(
    rounds: Iterable[ProgramRound], properties: Sequence[Property]
) -> dict[int, tuple[Property, ...]]:
    """By round the properties it treats: all of the program but those it leaves out."""
    found = {}
    for each in rounds:
        out = {left.pk for left in each.left_out.all()}
        found[each.pk] = tuple(one for one in properties if one.pk not in out)
    return found


def season_figures(
    program: SeasonProgram,
    rounds: Sequence[ProgramRound],
    properties: Sequence[Property],
    *,
    catalogue: Catalogue,
    today: date,
) -> SeasonFigures:
    """Gallons, packages and prices of every round; ``rounds`` in the order they are sprayed."""
    treated = treated_in(rounds, properties)
    requests = _requests(rounds, program.package, catalogue)
    sized = [_sized(each, treated[each.pk], requests.get(each.revision_id)) for each in rounds]
    package_gal = 1.0 if program.package.is_bulk else float(program.package.fill_gal)
    fills = filled(
        Wanted(each.round.revision_id, each.gal, package_gal, _bought(each.round)) for each in sized
    )
    found = [replace(each, fill=fill) for each, fill in zip(sized, fills, strict=True)]
    priced = _priced(found, program, today)
    costs = [each.cost for each in priced]
    sprayed = [each.sprayed_cost for each in priced]
    cost = None if None in costs else sum((each for each in costs if each), ZERO)
    used = None if None in sprayed else sum((each for each in sprayed if each), ZERO)
    return SeasonFigures(
        package=program.package,
        rounds=tuple(priced),
        months=_months(priced),
        acres=sum(each.acres for each in properties),
        cost=cost,
        over_cost=None if cost is None or used is None else max(ZERO, money(cost - used)),
    )


def _bought(rnd: ProgramRound) -> int | None:
    """Packages of a released round as they are ordered, also after its customer changed them."""
    order = rnd.released_as
    if order is None:
        return None
    return sum(each.quantity for each in order.lines.all())


def _requests(
    rounds: Iterable[ProgramRound], package: Package, catalogue: Catalogue
) -> dict[int, PricedRequest | BadInput]:
    """One request a blend, of one package; why, where it cannot be priced today."""
    tanks = tanks_in_use()
    found: dict[int, PricedRequest | BadInput] = {}
    for each in rounds:
        if each.revision_id in found:
            continue
        try:
            found[each.revision_id] = request_for(
                each.revision, catalogue=catalogue, tanks=tanks, package=package, quantity=1
            )
        except BadInput as bad:
            found[each.revision_id] = bad
    return found


def _sized(
    rnd: ProgramRound, treated: tuple[Property, ...], request: PricedRequest | BadInput | None
) -> RoundFigures:
    """Acres and gallons; by today's figure of what a gallon of the recipe weighs."""
    acres = sum(each.acres for each in treated)
    priced = request if isinstance(request, PricedRequest) else None
    density = priced.density_lb_per_gal if priced else rnd.revision.density_lb_per_gal
    gal = 0.0
    if holds_nitrogen(rnd):
        gal = product_gal(
            acres,
            rnd.n_rate_lb_per_1000sqft,
            n_pct=rnd.revision.analysis["N"],
            density_lb_per_gal=density,
        )
    return RoundFigures(
        round=rnd,
        treated=treated,
        acres=acres,
        gal=gal,
        fill=Filled(0.0, 0, 0.0),
        request=priced,
        problem=request.message if isinstance(request, BadInput) else "",
    )


def _priced(
    found: Sequence[RoundFigures], program: SeasonProgram, today: date
) -> list[RoundFigures]:
    """Each round with the price of its packages; equal ones are priced once."""
    wanted: dict[tuple[int, int], PricedRequest] = {}
    for each in found:
        if each.request is not None and each.packages and not each.round.released_as:
            rate = each.round.n_rate_lb_per_1000sqft
            wanted.setdefault(
                (each.round.revision_id, each.packages),
                replace(each.request, quantity=each.packages, n_rate_lb_per_1000sqft=rate),
            )
    try:
        prices = list(
            price_each(
                list(wanted.values()),
                company=program.company,
                ship_to=program.ship_to,
                today=today,
            )
        )
    except BadInput as bad:
        return [replace(each, problem=each.problem or bad.message) for each in found]
    of = dict(zip(wanted, prices, strict=True))
    return _with_costs(found, of)


def _with_costs(
    found: Sequence[RoundFigures], of: Mapping[tuple[int, int], PriceBreakdown | BadInput]
) -> list[RoundFigures]:
    """What is left over was bought at the price of the round that bought it last."""
    per_gal: dict[int, Decimal] = {}
    told = []
    for each in found:
        priced = _at_its_price(each, of.get((each.round.revision_id, each.packages)))
        before = per_gal.get(each.round.revision_id)
        if priced.bought is not None:
            per_gal[each.round.revision_id] = priced.bought.per_gal
        told.append(replace(priced, sprayed_cost=_sprayed_cost(priced, before)))
    return told


def _at_its_price(each: RoundFigures, today: PriceBreakdown | BadInput | None) -> RoundFigures:
    """With what its order costs, else with its price of today or why there is none."""
    order = each.round.released_as
    if order is not None:
        return replace(each, bought=_ordered(order), problem="")
    if isinstance(today, BadInput):
        return replace(each, problem=each.problem or today.message)
    if today is None:
        return each
    return replace(each, price=today, bought=Bought(today.price_total, today.price_per_gal))


def _ordered(order: Order) -> Bought | None:
    """None of an order without lines."""
    lines = list(order.lines.all())
    gal = exact(sum(line.volume_gal for line in lines))
    if not gal:
        return None
    paid = sum(line.price_per_gal * exact(line.volume_gal) for line in lines)
    return Bought(sum((line.line_total for line in lines), ZERO), paid / gal)


def _sprayed_cost(each: RoundFigures, before: Decimal | None) -> Decimal | None:
    """Leftovers at the price they were bought for, the rest at that of its own packages."""
    old, new = each.fill.from_before_gal, each.gal - each.fill.from_before_gal
    cost = ZERO
    if old > 0:
        if before is None:
            return None
        cost += exact(old) * before
    if each.packages:
        if each.bought is None:
            return None
        cost += exact(new) * each.bought.per_gal
    return cost


def _months(found: Sequence[RoundFigures]) -> tuple[MonthFigures, ...]:
    by_month: dict[date, dict[int, int]] = defaultdict(lambda: defaultdict(int))
    revisions = {each.round.revision_id: each.round.revision for each in found}
    for each in found:
        if each.packages:
            by_month[each.round.on.replace(day=1)][each.round.revision_id] += each.packages
    return tuple(
        MonthFigures(
            month,
            sum(blends.values()),
            tuple((revisions[pk], count) for pk, count in blends.items()),
        )
        for month, blends in sorted(by_month.items())
    )
