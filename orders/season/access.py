"""Who sees a season, and who may change it."""

from __future__ import annotations

from typing import Final

from django.shortcuts import get_object_or_404
from django.utils.translation import gettext as _

from blendshop.accounts.models import Company, User
from blendshop.errors import IllegalMove
from blendshop.roles import Role, has_role
from orders.models import ProgramRound, Property, SeasonProgram
from orders.ordering.actions import require_may_order_for

#: Who may open these pages; a customer's people see their own company's.
SEES_SEASONS: Final = (Role.CUSTOMER, Role.REP, Role.OFFICE)


def is_house(user: User) -> bool:
    return has_role(user, Role.REP, Role.OFFICE)


def may_change(user: User, company: Company) -> bool:
    """Rep and office for everybody, a customer's person who may order for its own company."""
    return is_house(user) or (user.company_id == company.pk and user.may_order)


def require_may_change(user: User, company: Company) -> None:
    """NotAllowed in a sentence unless ``may_change``; the rule of whoever orders."""
    require_may_order_for(user, company)


def require_free(program: SeasonProgram) -> None:
    """IllegalMove while the program's packages are reserved: they follow from its figures."""
    if program.is_reserved:
        raise IllegalMove(
            _("{program} is reserved as {number}; take the reservation back to change it.").format(
                program=program, number=program.standing_order
            )
        )


def require_not_released(rnd: ProgramRound) -> None:
    """IllegalMove once a round is ordered: what was ordered is what will be sprayed."""
    if order := rnd.released_as:
        raise IllegalMove(
            _("{name} is released already, as {number}.").format(name=rnd.name, number=order)
        )


def get_program_for(user: User, pk: int) -> SeasonProgram:
    """The program with its company, place, package and standing order; Http404 for strangers."""
    programs = SeasonProgram.objects.visible_to(user).select_related(
        "company", "ship_to__zone", "package", "standing_order", "copied_from"
    )
    program: SeasonProgram = get_object_or_404(programs, pk=pk)
    return program


def get_property_for(user: User, pk: int) -> Property:
    """Http404 for strangers."""
    rows = Property.objects.visible_to(user).select_related("company")
    found: Property = get_object_or_404(rows, pk=pk)
    return found


def get_round_for(user: User, pk: int) -> ProgramRound:
    """A round of a program the person may see; Http404 otherwise."""
    rounds = ProgramRound.objects.filter(
        program__in=SeasonProgram.objects.visible_to(user)
    ).select_related(
        "program__company",
        "program__ship_to__zone",
        "program__package",
        "program__standing_order",
        "revision__blend",
        "reserved_as__standing_order",
        "reserved_as__order",
        "reserved_as__package",
    )
    found: ProgramRound = get_object_or_404(rounds, pk=pk)
    return found
