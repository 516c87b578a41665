"""What the office sets once, from pages of its own: profile, prices, packages, tanks, people."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from datetime import date
from decimal import Decimal
from typing import Any, Final

from django.contrib.auth.models import Group
from django.db import transaction
from django.utils.text import slugify
from django.utils.translation import gettext as _

from blendshop.accounts.actions.way_in import Standing, invite_staff, note_changes
from blendshop.accounts.models import User
from blendshop.errors import BadInput
from blendshop.plant_steps import NotSetUp, PlantStep
from blendshop.roles import STAFF, Role, require_role
from blendshop.saving import Row, save_valid
from orders.models import (
    ClosedDay,
    FreightZone,
    Package,
    PlantProfile,
    PricePolicy,
    PriceTier,
    StateFee,
    Tank,
    Truck,
)
from orders.price_desk.fee_marks import fee_mark

_CODE_LENGTH: Final = 20


def set_plant_profile(*, acting_user: User, **columns: Any) -> PlantProfile:
    """The head of every paper; papers already issued keep theirs."""
    require_role(acting_user, Role.OFFICE)
    with transaction.atomic():
        profile = PlantProfile.stored() or PlantProfile(pk=1)
        return _saved(profile, columns, acting_user)


def set_working_days(
    *, acting_user: User, closed_days: Mapping[date, str], **week: Any
) -> PlantProfile:
    """The plant's week, and days it is closed with why; both count in every due date.

    NotSetUp before the plant has a profile, BadInput while no closed day is named at all.
    """
    require_role(acting_user, Role.OFFICE)
    with transaction.atomic():
        profile = PlantProfile.stored()
        if profile is None:
            raise NotSetUp(_("The plant has no name and address yet."), PlantStep.PROFILE)
        for day, why in closed_days.items():
            row = ClosedDay.objects.filter(day=day).first() or ClosedDay(day=day)
            _saved(row, {"why": why}, acting_user)
        if not ClosedDay.objects.exists():
            message = _("Name at least the next holiday.")
            raise BadInput(message, fields={"closed_days": message})
        return _saved(profile, week, acting_user)


def set_state_fee(
    *, acting_user: User, state: str, fee_per_ton: Decimal, citation: str, is_charged: bool
) -> StateFee:
    """What a state charges per ton, or that nothing is passed on there; issued prices stay."""
    require_role(acting_user, Role.OFFICE)
    with transaction.atomic():
        row = StateFee.objects.filter(state=state).first() or StateFee(state=state)
        columns = {
            "fee_per_ton": fee_per_ton,
            "citation": citation,
            "mark": fee_mark(state, fee_per_ton, citation),
            "active": is_charged,
        }
        return _saved(row, columns, acting_user)


def set_prices(
    *,
    acting_user: User,
    policy: Mapping[str, Decimal],
    effective_from: date,
    tier_name: str,
    margin_pct: Decimal,
    floor_pct: Decimal,
) -> None:
    """Shrink and fees from a day on, and the tier of customers without one of their own.

    A policy is written once: other figures, or another day, are a new row.
    """
    require_role(acting_user, Role.OFFICE)
    with transaction.atomic():
        stands = PricePolicy.objects.filter(effective_from__lte=effective_from).first()
        if stands is None or any(getattr(stands, name) != value for name, value in policy.items()):
            row = PricePolicy(effective_from=effective_from, **policy)
            save_valid(row, acting_user)
        tier = PriceTier.objects.filter(is_default=True).first() or PriceTier(is_default=True)
        figures = {"name": tier_name, "margin_pct": margin_pct, "floor_pct": floor_pct}
        _saved(tier, figures, acting_user)


def add_package(*, acting_user: User, name: str, plural_name: str = "", **columns: Any) -> Package:
    """What the liquid leaves in; its code is made from its name."""
    require_role(acting_user, Role.OFFICE)
    with transaction.atomic():
        package = Package(code=_free_code(name), plural_name=plural_name or f"{name}s")
        return _saved(package, {"name": name, **columns}, acting_user)


def add_tank(*, acting_user: User, **columns: Any) -> Tank:
    """A blending tank with its scales; what is in it is looked into and signed on its page."""
    require_role(acting_user, Role.OFFICE)
    with transaction.atomic():
        return _saved(Tank(), columns, acting_user)


def add_zone(*, acting_user: User, **columns: Any) -> FreightZone:
    """What a delivery into a zone costs, or that the customers of it collect."""
    require_role(acting_user, Role.OFFICE)
    with transaction.atomic():
        return _saved(FreightZone(), columns, acting_user)


def add_deck_truck(*, acting_user: User, **columns: Any) -> Truck:
    """The truck that loads of packages are counted with."""
    require_role(acting_user, Role.OFFICE)
    with transaction.atomic():
        return _saved(Truck(kind=Truck.Kind.DECK), columns, acting_user)


def give_roles(
    *,
    acting_user: User,
    name: str,
    email: str,
    roles: Collection[str],
    address: str | None = None,
) -> User:
    """Somebody of the plant holds these roles too; whoever is new is mailed a link.

    The security log says so, with ``address``, where the office was. NotAllowed for oneself.

    BadInput when the address is a customer's, or somebody's whom the office made inactive.
    """
    require_role(acting_user, Role.OFFICE)
    email = email.strip().lower()
    wanted = {Role(role) for role in roles} & STAFF
    if not wanted:
        raise BadInput(_("Choose a role."), fields={"roles": _("Choose at least one.")})
    with transaction.atomic():
        person = User.objects.select_for_update().filter(email__iexact=email).first()
        is_new = person is None
        if person is None:
            person = User(email=email, name=name.strip())
            person.set_unusable_password()
        elif person.company_id is not None or not person.is_active:
            message = _("This address belongs to a customer, or to somebody who left.")
            raise BadInput(message, fields={"email": message})
        if wanted & {Role.OFFICE, Role.FORMULATOR}:
            person.is_staff = True  # opens the back office; what they see there is the roles'
        before = None if is_new else Standing.of(person)
        save_valid(person, acting_user)
        person.groups.add(*Group.objects.filter(name__in=[role.value for role in wanted]))
        if before is None:
            invite_staff(acting_user=acting_user, person=person, address=address)
        else:
            note_changes(acting_user=acting_user, person=person, before=before, address=address)
    return person


def _saved(row: Row, columns: Mapping[str, Any], acting_user: User) -> Row:
    for name, value in columns.items():
        setattr(row, name, value)
    return save_valid(row, acting_user)


def _free_code(name: str) -> str:
    """``265-gal-tote``, with a number behind it where that is taken."""
    stem = slugify(name)[:_CODE_LENGTH].strip("-") or "package"
    taken = set(Package.objects.values_list("code", flat=True))
    code, number = stem, 1
    while code in taken:
        number += 1
        code = f"{stem[: _CODE_LENGTH - 3].strip('-')}-{number}"
    return code
