"""Properties, season programs of this year and next, and what is reserved of them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from blendshop.accounts.models import User
from formulas.engine_bridge import load_catalogue
from formulas.models import BlendRevision
from orders.demo.year import calendar
from orders.demo.year.actions.dated import numbers, put_in
from orders.demo.year.actions.people import People, Place
from orders.demo.year.seasons import NOTE, SEASONS, Season
from orders.models import (
    ProgramProperty,
    ProgramRound,
    Property,
    SeasonProgram,
    SeasonProgramEvent,
    StandingOrder,
    StandingOrderEvent,
)
from orders.season.actions.reserving import put_on
from orders.season.figures import properties_of, rounds_of, season_figures

#: Days ago on which next year's programs were copied from this year's.
_COPIED = 20
_MADE_AT = 11 * 60


def add_seasons(people: People, revisions: Mapping[str, BlendRevision], today: date) -> None:
    """A program of this year for each season, and its copy for next year."""
    for season in SEASONS:
        place = people.places[season.customer]
        properties = put_in(
            Property,
            (
                Property(
                    company=place.company,
                    name=name,
                    acres=acres,
                    grass=grass,
                    state=place.ship_to.state,
                    county=place.ship_to.county,
                    place=place.ship_to.city,
                    carrier_gal_per_1000sqft=carrier,
                    note=NOTE,
                )
                for name, acres, grass, carrier in season.properties
            ),
        )
        made = calendar.after(calendar.first_day(today), 60)
        this = _program(season, place, today.year, made, people.reps[0], properties, revisions)
        copied = calendar.after(today, -_COPIED)
        following = _program(
            season, place, today.year + 1, copied, place.person, properties, revisions, this
        )
        if season.is_reserved:
            _reserve(season, following, place, calendar.after(copied, 3))


def _program(
    season: Season,
    place: Place,
    year: int,
    made: date,
    by: User,
    properties: Sequence[Property],
    revisions: Mapping[str, BlendRevision],
    copied_from: SeasonProgram | None = None,
) -> SeasonProgram:
    at = calendar.moment(made, _MADE_AT)
    (program,) = put_in(
        SeasonProgram,
        [
            SeasonProgram(
                company=place.company,
                name=season.name,
                year=year,
                ship_to=place.ship_to,
                package=place.package,
                note=NOTE,
                copied_from=copied_from,
                made_by=by,
                made_at=at,
            )
        ],
    )
    put_in(ProgramProperty, (ProgramProperty(program=program, property=p) for p in properties))
    put_in(
        ProgramRound,
        (
            ProgramRound(
                program=program,
                name=each.name,
                on=_working_day(date(year, each.month, each.day)),
                revision=revisions[each.blend],
                n_rate_lb_per_1000sqft=each.rate,
            )
            for each in season.rounds
        ),
    )
    why = f"Copied from {copied_from}." if copied_from else "Begun."
    row = SeasonProgramEvent(
        program=program, at=at, by=by, who=str(by), to_status="planned", why=why
    )
    put_in(SeasonProgramEvent, [row])
    return program


def _reserve(season: Season, program: SeasonProgram, place: Place, day: date) -> None:
    """Totes for each round of each blend, as the acres ask for them, priced as of that day."""
    at, by = calendar.moment(day, _MADE_AT), place.person
    signed: dict[str, Any] = {"at": at, "by": by, "who": str(by)}
    (number,) = numbers("SO", [day])
    (standing,) = put_in(
        StandingOrder,
        [
            StandingOrder(
                number=number,
                company=place.company,
                ship_to=place.ship_to,
                year=program.year,
                note=NOTE,
                made_by=by,
                made_at=at,
            )
        ],
    )
    figures = season_figures(
        program,
        rounds_of(program),
        properties_of(program),
        catalogue=load_catalogue(day),
        today=day,
    )
    put_on(standing, program, figures.to_come(day))
    put_in(
        StandingOrderEvent,
        [
            StandingOrderEvent(
                standing_order=standing,
                to_status="reserved",
                why=f"Reserved for {program}.",
                **signed,
            )
        ],
    )
    why = f"Reserved as {standing.number}."
    put_in(
        SeasonProgramEvent,
        [SeasonProgramEvent(program=program, to_status="reserved", why=why, **signed)],
    )


def _working_day(day: date) -> date:
    return calendar.after(calendar.after(day, -1), 1)
