"""Reserving a season's packages, and releasing them round by round at the price of the day.

A reservation is no order of the plant: stock plan and buying read the rounds that wait as what
will be needed. Releasing one is a reorder of what was reserved and goes through the same gate.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import date
from typing import Any, Final

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from blendshop.accounts.models import Company, User
from blendshop.errors import ChangedMeanwhile, IllegalMove
from blendshop.figures.readers import reader
from formulas.engine_bridge import load_catalogue
from orders.frozen.line_price import LinePrice
from orders.models import (
    Order,
    ProgramRound,
    SeasonProgram,
    StandingOrder,
    StandingRound,
)
from orders.quoting.draft_prices import line_figures
from orders.records.numbering import next_number
from orders.reordering.actions import SaidBeside, confirm_reorder
from orders.reordering.preview import Reorder, WantedLine, preview
from orders.reordering.wording import Earlier
from orders.season.access import require_may_change, require_not_released
from orders.season.actions.programs import held, note_program
from orders.season.figures import (
    RoundFigures,
    SeasonFigures,
    properties_of,
    rounds_of,
    season_figures,
)
from orders.season.notices import tell_given_back, tell_reserved

STANDING_PREFIX: Final = "SO"


def reserve(*, acting_user: User, program: SeasonProgram, seen: str) -> StandingOrder:
    """A standing order of the packages of every round to come, as they were shown.

    ``seen`` is ``SeasonFigures.shown`` of the page; ChangedMeanwhile when today's are others.
    """
    require_may_change(acting_user, program.company)
    today = timezone.localdate()
    with transaction.atomic():
        program = held(program)
        figures = season_figures(
            program,
            rounds_of(program),
            properties_of(program),
            catalogue=load_catalogue(today),
            today=today,
        )
        if figures.shown != seen:
            raise ChangedMeanwhile(
                _("The season has changed since it was shown. Look at it again; nothing is kept.")
            )
        standing = _standing_order(acting_user, program, figures, today)
        told = f"Reserved for {program}."
        standing.events.create(
            by=acting_user, who=str(acting_user), to_status="reserved", why=told[:400]
        )
        note_program(program, acting_user, f"Reserved as {standing.number}.")
        tell_reserved(standing, program, by=acting_user)
    return standing


def _standing_order(
    acting_user: User, program: SeasonProgram, figures: SeasonFigures, today: date
) -> StandingOrder:
    coming = figures.to_come(today)
    if not coming:
        raise IllegalMove(_("No round to come needs anything; there is nothing to reserve."))
    standing = StandingOrder.objects.create(
        number=next_number(STANDING_PREFIX),
        company=program.company,
        ship_to=program.ship_to,
        year=program.year,
        note=str(program)[:400],
        made_by=acting_user,
    )
    put_on(standing, program, coming)
    return standing


def put_on(standing: StandingOrder, program: SeasonProgram, coming: Iterable[RoundFigures]) -> None:
    """The program's rounds on its standing order: packages, pounds and price as they were figured.

    Part of reserving and inside its transaction.
    """
    for position, each in enumerate(coming, start=1):
        each.round.reserved_as = StandingRound.objects.create(
            standing_order=standing,
            position=position,
            name=each.round.name,
            wanted_on=each.round.on,
            revision=each.round.revision,
            package=program.package,
            quantity=each.packages,
            mass_lb=each.mass_lb,
            n_rate_lb_per_1000sqft=each.round.n_rate_lb_per_1000sqft,
            price=_frozen_price(each),
        )
        each.round.save(update_fields=["reserved_as"])
    program.standing_order = standing
    program.save(update_fields=["standing_order"])


def _frozen_price(each: RoundFigures) -> dict[str, Any] | None:
    """The price of the day, which a later one is compared with; None where there was none."""
    if each.request is None or each.price is None:
        return None
    request = replace(each.request, quantity=each.packages)
    price: dict[str, Any] = line_figures(each.round.revision, request, each.price)["price"]
    return price


def give_back(*, acting_user: User, program: SeasonProgram) -> None:
    """What waits of it is not needed any more; the program is free to be changed.

    Rounds that are released stay as they were ordered. Reserved anew is what is left.
    """
    require_may_change(acting_user, program.company)
    with transaction.atomic():
        locked = SeasonProgram.objects.select_for_update(of=("self",)).get(pk=program.pk)
        standing = locked.standing_order
        if standing is None or standing.ended_at is not None:
            raise IllegalMove(_("Nothing of this season waits to be released."))
        waiting = list(
            standing.rounds.waiting().select_for_update(of=("self",)).values_list("pk", flat=True)
        )
        standing.ended_at = timezone.now()
        standing.save(update_fields=["ended_at"])
        locked.rounds.filter(reserved_as__in=waiting).update(reserved_as=None)
        if not locked.rounds.filter(reserved_as__isnull=False).exists():
            locked.standing_order = None
            locked.save(update_fields=["standing_order"])
        standing.events.create(
            by=acting_user,
            who=str(acting_user),
            from_status="reserved",
            to_status="given back",
            why=f"What waits of {locked} is given back.",
        )
        note_program(locked, acting_user, f"{standing.number} given back.")
        tell_given_back(standing, locked, by=acting_user)


def offered_round(row: ProgramRound) -> Reorder:
    """What the reserved round would be today, compared with the day it was reserved."""
    reserved = require_waiting(row)
    standing = reserved.standing_order
    earlier = None
    if reserved.price is not None:
        day = reader().date(timezone.localdate(standing.made_at))
        said = _("the reservation {number} of {day}").format(number=standing.number, day=day)
        earlier = Earlier.of_line(said, LinePrice.from_json(reserved.price))
    wanted = WantedLine(
        revision=row.revision,
        package=reserved.package,
        quantity=reserved.quantity,
        n_rate_lb_per_1000sqft=reserved.n_rate_lb_per_1000sqft,
        earlier=earlier,
    )
    return preview(
        [wanted],
        company=row.program.company,
        ship_to=row.program.ship_to,
        source=f"{standing.number}, {reserved.name}",
        today=timezone.localdate(),
    )


def require_waiting(row: ProgramRound) -> StandingRound:
    """The reserved round while it waits; IllegalMove in a sentence otherwise."""
    reserved = row.reserved_as
    if reserved is None:
        raise IllegalMove(_("{name} is not reserved.").format(name=row.name))
    require_not_released(row)
    if reserved.standing_order.ended_at is not None:
        raise IllegalMove(
            _("{number} was given back; nothing of it waits.").format(
                number=reserved.standing_order
            )
        )
    return reserved


def release(
    *,
    acting_user: User,
    row: ProgramRound,
    offer: Reorder,
    seen_digest: str,
    once: str,
    terms: SaidBeside,
) -> Order:
    """The order of a reserved round as it was shown, or a request where the gate says why.

    Sent twice it is the same order; after that was cancelled or declined another page makes
    another. Rep and office release for their customer.
    """
    require_may_change(acting_user, row.program.company)
    with transaction.atomic():
        # In the order of every reorder, so that no two wait for each other.
        Company.objects.select_for_update().get(pk=row.program.company_id)
        reserved = StandingRound.objects.select_for_update(of=("self",)).get(program_round=row)
        made = confirm_reorder(
            reorder=offer,
            acting_user=acting_user,
            seen_digest=seen_digest,
            once=once,
            terms=terms,
            as_order=True,
        )
        if not isinstance(made, Order):
            raise IllegalMove(_("This page was sent for something else; open it again."))
        if reserved.order_id == made.pk:
            return made
        still = StandingRound.objects.waiting().filter(pk=reserved.pk)
        if not still.update(order=made):
            raise ChangedMeanwhile(
                _("Somebody else has released it meanwhile; look again. Nothing is ordered.")
            )
        reserved.standing_order.events.create(
            by=acting_user,
            who=str(acting_user),
            from_status="reserved",
            to_status="released",
            why=f"{reserved.name} released as {made.number}.",
            data={"order": made.number},
        )
    return made
