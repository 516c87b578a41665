"""Writing properties, programs and rounds; copying a program into the next year."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from datetime import date
from typing import Any, Final

from django.db import transaction
from django.utils.translation import gettext as _

from blendshop.accounts.models import Company, User
from blendshop.errors import BadInput
from blendshop.saving import save_valid
from formulas.models import BlendRevision
from orders.models import (
    ProgramProperty,
    ProgramRound,
    Property,
    SeasonProgram,
    StandingRound,
)
from orders.quoting.forms import offered_revisions
from orders.records.us_states import US_STATES
from orders.season.access import require_free, require_may_change, require_not_released
from orders.season.figures import MOST_ROUNDS

#: 29 February is a day of leap years alone.
_LEAP_DAY: Final = (2, 29)


def save_property(
    *, acting_user: User, company: Company, row: Property | None = None, **columns: Any
) -> Property:
    """Write a new property or change one; BadInput names the fields."""
    require_may_change(acting_user, company)
    found = row or Property(company=company)
    for name, value in columns.items():
        setattr(found, name, value)
    if found.state not in US_STATES:
        told = _("{state} is no state of the United States.").format(state=found.state)
        raise BadInput(told, fields={"state": told})
    with transaction.atomic():
        if found.pk:
            _require_acres_free(found)
        return save_valid(found, acting_user)


def _require_acres_free(changed: Property) -> None:
    """BadInput where other acres would ask for other totes than seasons have reserved."""
    if Property.objects.filter(pk=changed.pk, acres=changed.acres).exists():
        return
    programs = SeasonProgram.objects.select_for_update(of=("self",)).filter(
        pk__in=ProgramProperty.objects.filter(property=changed).values("program"),
        standing_order__rounds__in=StandingRound.objects.waiting(),
    )
    reserved = dict.fromkeys(
        f"{each} ({each.standing_order})" for each in programs.select_related("standing_order")
    )
    if reserved:
        told = _(
            "Totes are reserved for these acres: {seasons}. Take the reservation back there first,"
            " then change the acres and reserve again."
        ).format(seasons=", ".join(reserved))
        raise BadInput(told, fields={"acres": told})


def save_program(
    *,
    acting_user: User,
    company: Company,
    properties: Iterable[Property],
    program: SeasonProgram | None = None,
    **columns: Any,
) -> SeasonProgram:
    """Write the head of a program and which properties it treats.

    Rounds keep their days: a program of another year is a copy (``copy_program``).
    """
    require_may_change(acting_user, company)
    chosen = list(properties)
    if any(each.company_id != company.pk for each in chosen):
        raise BadInput(_("A program treats properties of its own customer."))
    with transaction.atomic():
        if program is not None:
            program = held(program)
        found = program or SeasonProgram(company=company, made_by=acting_user)
        for name, value in columns.items():
            setattr(found, name, value)
        _require_fitting(found)
        save_valid(found, acting_user)
        found.program_properties.exclude(property__in=chosen).delete()
        there = set(found.program_properties.values_list("property", flat=True))
        ProgramProperty.objects.bulk_create(
            ProgramProperty(program=found, property=each) for each in chosen if each.pk not in there
        )
        if told := _sprayed_twice(found):
            raise BadInput(told, fields={"properties": told})
        note_program(found, acting_user, "saved" if program else "begun")
    return found


def _require_fitting(program: SeasonProgram) -> None:
    """A place of its customer, a package in use, and no round left in another year."""
    place = program.ship_to
    if place.company_id != program.company_id or not place.active:
        told = _("Choose an address of this customer that is in use.")
        raise BadInput(told, fields={"ship_to": told})
    if not program.package.active:
        told = _("This package is no longer offered.")
        raise BadInput(told, fields={"package": told})
    if program.pk and program.rounds.exclude(on__year=program.year).exists():
        told = _("Its rounds are in another year; copy the program into the next year instead.")
        raise BadInput(told, fields={"year": told})


def save_round(
    *,
    acting_user: User,
    program: SeasonProgram,
    revision: BlendRevision,
    left_out: Collection[Property] = (),
    row: ProgramRound | None = None,
    **columns: Any,
) -> ProgramRound:
    """Write a new round or change one; ``left_out`` are properties it does not treat."""
    require_may_change(acting_user, program.company)
    if row is None or row.revision_id != revision.pk:
        _require_may_use(acting_user, program, revision)
    with transaction.atomic():
        program = held(program)
        if row is None and program.rounds.count() >= MOST_ROUNDS:
            raise BadInput(_("A season has at most {count} rounds.").format(count=MOST_ROUNDS))
        if row is not None:
            require_not_released(row)
        found = row or ProgramRound(program=program)
        for name, value in {**columns, "revision": revision}.items():
            setattr(found, name, value)
        _require_in_year(program, found.on)
        save_valid(found, acting_user)
        found.left_out.set(each for each in left_out if each.company_id == program.company_id)
        if told := _sprayed_twice(program):
            raise BadInput(told, fields={"on": told})
        note_program(program, acting_user, f"Round {found.name} saved.")
    return found


def _require_may_use(user: User, program: SeasonProgram, revision: BlendRevision) -> None:
    """A blend with nitrogen that the person may choose for this customer."""
    if not offered_revisions(user, program.company_id).filter(pk=revision.pk).exists():
        told = _("Choose a blend of this customer.")
        raise BadInput(told, fields={"revision": told})
    if not revision.analysis.get("N", 0.0) > 0:
        told = _("A round goes by nitrogen, and this blend holds none.")
        raise BadInput(told, fields={"revision": told})


def _require_in_year(program: SeasonProgram, on: date) -> None:
    if on.year != program.year:
        told = _("This day is not in {year}.").format(year=program.year)
        raise BadInput(told, fields={"on": told})


def _sprayed_twice(program: SeasonProgram) -> str:
    """What is wrong where two rounds spray one property on one day; empty where none do.

    A limit for one application is about all that is sprayed there that day, and each round is
    checked against it alone.
    """
    treated = dict(program.program_properties.values_list("property", "property__name"))
    pairs = ProgramRound.left_out.through.objects.filter(programround__program=program)
    out = set(pairs.values_list("programround", "property"))
    sprayed: dict[tuple[date, int], str] = {}
    for pk, name, on in program.rounds.order_by("on", "pk").values_list("pk", "name", "on"):
        for each, place in treated.items():
            first = name if (pk, each) in out else sprayed.setdefault((on, each), name)
            if first != name:
                return _(
                    "{first} and {second} both spray {place} on that day. A limit for one"
                    " application means all of a day: choose another day, or leave it out of one."
                ).format(first=first, second=name, place=place)
    return ""


def save_rows(
    *, acting_user: User, program: SeasonProgram, rows: Mapping[int, Mapping[str, Any]]
) -> None:
    """Days, names and rates of several rounds at once, by their keys."""
    require_may_change(acting_user, program.company)
    with transaction.atomic():
        program = held(program)
        there = program.rounds.filter(pk__in=rows).select_related("reserved_as__order")
        for found in there.select_for_update(of=("self",)):
            require_not_released(found)
            for name, value in rows[found.pk].items():
                setattr(found, name, value)
            _require_in_year(program, found.on)
            save_valid(found, acting_user)
        if told := _sprayed_twice(program):
            raise BadInput(told)
        note_program(program, acting_user, "Rounds saved.")


def drop_round(*, acting_user: User, row: ProgramRound) -> None:
    """Take a round out of its program."""
    require_may_change(acting_user, row.program.company)
    with transaction.atomic():
        program = held(row.program)
        require_not_released(row)
        row.delete()
        note_program(program, acting_user, f"Round {row.name} dropped.")


def copy_program(*, acting_user: User, program: SeasonProgram) -> SeasonProgram:
    """The same program a year later: every day a year on, properties still in use, no reserve."""
    require_may_change(acting_user, program.company)
    with transaction.atomic():
        found = save_valid(
            SeasonProgram(
                company=program.company,
                name=program.name,
                year=program.year + 1,
                ship_to=program.ship_to,
                package=program.package,
                professional=program.professional,
                note=program.note,
                copied_from=program,
                made_by=acting_user,
            ),
            acting_user,
        )
        kept = list(program.properties.filter(active=True))
        ProgramProperty.objects.bulk_create(
            ProgramProperty(program=found, property=each) for each in kept
        )
        for each in program.rounds.prefetch_related("left_out"):
            later = ProgramRound.objects.create(
                program=found,
                name=each.name,
                on=_a_year_on(each.on),
                revision_id=each.revision_id,
                n_rate_lb_per_1000sqft=each.n_rate_lb_per_1000sqft,
            )
            later.left_out.set(each.left_out.all())
        note_program(found, acting_user, f"Copied from {program}.")
    return found


def _a_year_on(day: date) -> date:
    if (day.month, day.day) == _LEAP_DAY:
        return date(day.year + 1, 2, 28)
    return day.replace(year=day.year + 1)


def held(program: SeasonProgram) -> SeasonProgram:
    """The program locked and free to be changed; IllegalMove while it is reserved."""
    found = (
        SeasonProgram.objects.select_for_update(of=("self",))
        .select_related("standing_order", "company")
        .get(pk=program.pk)
    )
    require_free(found)
    return found


def note_program(program: SeasonProgram, acting_user: User, why: str) -> None:
    """An event of the program; it has no states, so what was done is the reason."""
    state = "reserved" if program.is_reserved else "planned"
    program.events.create(
        by=acting_user, who=str(acting_user), from_status="", to_status=state, why=why[:400]
    )
