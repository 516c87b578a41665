"""Seasons of all customers: properties, programs of this year and the next, what is reserved."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Final

from blendshop.accounts.models import User
from orders.demo.large.kinds import SavedRecipe
from orders.demo.large.size import spread
from orders.models import (
    Package,
    ProgramProperty,
    ProgramRound,
    Property,
    SeasonProgram,
    ShipTo,
    StandingOrder,
    StandingRound,
)
from orders.records.numbering import next_numbers

AT_ONCE: Final = 500
NOTE: Final = "Demo data."
_PROPERTIES: Final = 4
#: Name, month, day and pounds of N per 1,000 sq ft of each round.
_ROUNDS: Final = (
    ("Early spring", 3, 20, 0.5),
    ("Late spring", 5, 10, 0.75),
    ("Summer", 7, 5, 0.5),
    ("Fall", 9, 15, 0.9),
)
#: Of next year's programs every so many is reserved.
_RESERVED: Final = 3
_TOTES: Final = 2


def add_seasons(
    places: Sequence[ShipTo], recipes: Sequence[SavedRecipe], rep: User, today: date
) -> None:
    """Two programs for each customer, of the first of its own blends, else of the plant's."""
    own = {recipe.company_id: recipe for recipe in reversed(recipes)}
    package = Package.objects.get(pk=recipes[0].kind.line.package_id)
    for start in range(0, len(places), AT_ONCE):
        _add(places[start : start + AT_ONCE], own, package, rep, today)


def _add(
    places: Sequence[ShipTo],
    own: Mapping[int | None, SavedRecipe],
    package: Package,
    rep: User,
    today: date,
) -> None:
    properties = Property.objects.bulk_create(
        Property(
            company_id=place.company_id,
            name=f"Route {number + 1}",
            acres=5 + round(40 * spread(place.pk + number), 1),
            state=place.state,
            county=place.county,
            place=place.city,
            carrier_gal_per_1000sqft=1.0,
            note=NOTE,
        )
        for place in places
        for number in range(_PROPERTIES)
    )
    programs = SeasonProgram.objects.bulk_create(
        SeasonProgram(
            company_id=place.company_id,
            name="Lawn program",
            year=year,
            ship_to=place,
            package=package,
            note=NOTE,
            made_by=rep,
        )
        for place in places
        for year in (today.year, today.year + 1)
    )
    ProgramProperty.objects.bulk_create(
        ProgramProperty(program=program, property=each)
        for nth, program in enumerate(programs)
        for each in properties[nth // 2 * _PROPERTIES : (nth // 2 + 1) * _PROPERTIES]
    )
    rounds = ProgramRound.objects.bulk_create(
        ProgramRound(
            program=program,
            name=name,
            on=date(program.year, month, day),
            revision_id=(own.get(program.company_id) or own[None]).revision_id,
            n_rate_lb_per_1000sqft=rate,
        )
        for program in programs
        for name, month, day, rate in _ROUNDS
    )
    lb_per_gal = {recipe.revision_id: recipe.density_lb_per_gal for recipe in own.values()}
    _reserve(programs[1 :: 2 * _RESERVED], rounds, lb_per_gal, rep)


def _reserve(
    programs: Sequence[SeasonProgram],
    rounds: Sequence[ProgramRound],
    lb_per_gal: Mapping[int, float],
    rep: User,
) -> None:
    numbers = next_numbers("SO", len(programs))
    orders = StandingOrder.objects.bulk_create(
        StandingOrder(
            number=number,
            company_id=program.company_id,
            ship_to_id=program.ship_to_id,
            year=program.year,
            note=NOTE,
            made_by=rep,
        )
        for number, program in zip(numbers, programs, strict=True)
    )
    of = {program.pk: order for program, order in zip(programs, orders, strict=True)}
    reserved = [each for each in rounds if each.program_id in of]
    standing = StandingRound.objects.bulk_create(
        StandingRound(
            standing_order=of[each.program_id],
            position=1 + number % len(_ROUNDS),
            name=each.name,
            wanted_on=each.on,
            revision_id=each.revision_id,
            package_id=each.program.package_id,
            quantity=_TOTES,
            mass_lb=_TOTES * float(each.program.package.fill_gal) * lb_per_gal[each.revision_id],
            n_rate_lb_per_1000sqft=each.n_rate_lb_per_1000sqft,
        )
        for number, each in enumerate(reserved)
    )
    for each, row in zip(reserved, standing, strict=True):
        each.reserved_as = row
    ProgramRound.objects.bulk_update(reserved, ["reserved_as"])
    for program in programs:
        program.standing_order = of[program.pk]
    SeasonProgram.objects.bulk_update(programs, ["standing_order"])
