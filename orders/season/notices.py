"""What the house is told of seasons: what a customer reserved, gave back or gave up."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from blendshop.notices.actions import Cause, tell
from blendshop.notices.kinds import Kind, register
from blendshop.roles import Role
from orders.models import SeasonProgram, StandingOrder
from orders.records.reply_address import house_of

if TYPE_CHECKING:
    from blendshop.accounts.models import User

SEASON_RESERVED: Final = register(
    Kind(
        "season_reserved",
        gettext_lazy("Season reserved or given back"),
        frozenset({Role.REP, Role.OFFICE}),
    )
)


def tell_reserved(standing_order: StandingOrder, program: SeasonProgram, *, by: User) -> None:
    """Rep and office: so many packages are spoken for, to be released round by round."""
    count = sum(each.quantity for each in standing_order.rounds.all())
    text = _("{company} has reserved {count} × {package} for {program} as {number}.").format(
        company=standing_order.company,
        count=count,
        package=program.package,
        program=program,
        number=standing_order.number,
    )
    _tell(standing_order, program, text, by=by)


def tell_given_back(standing_order: StandingOrder, program: SeasonProgram, *, by: User) -> None:
    """What was not released of it is not needed any more."""
    text = _("{company} does not need what waits of {number} for {program} any more.").format(
        company=standing_order.company, number=standing_order.number, program=program
    )
    _tell(standing_order, program, text, by=by)


def _tell(standing_order: StandingOrder, program: SeasonProgram, text: str, *, by: User) -> None:
    event = standing_order.events.order_by("-pk")[0]
    cause = Cause(
        key=f"{standing_order.number}:{event.pk}",
        name=standing_order.number,
        text=text,
        link=reverse("season_program", args=[program.pk]),
        about=("standing_order", standing_order.number),
    )
    tell(SEASON_RESERVED, house_of(standing_order.company).distinct(), cause, by=by)
