"""Which of the steps of ``blendshop/plant_steps`` are done; a fixed number of queries."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Final

from django.db.models import Q

from blendshop.accounts.models import Company, User
from blendshop.plant_steps import PlantStep
from blendshop.roles import Role, has_role
from formulas.models import BaseStock, StockCost
from orders.models import (
    ClosedDay,
    FreightZone,
    Package,
    PlantProfile,
    PricePolicy,
    PriceTier,
    Quote,
    ShipTo,
    StateFee,
    Tank,
    Truck,
)
from orders.scales.standing import ScaleState, standings

#: Who a plant cannot do without: loads are charged by the one, labels approved by the other.
NEEDED_ROLES: Final = (Role.PLANT, Role.FORMULATOR)
#: A quote can be written without them: dates then follow the usual week, prices know no fee.
_NOT_IN_THE_WAY: Final = (PlantStep.DAYS, PlantStep.FEES)


@dataclass(frozen=True, slots=True)
class StepState:
    """A step for one person: done or not, whether they may take it, and whether it is next."""

    step: PlantStep
    done: bool
    may: bool
    is_next: bool = False

    @property
    def doers(self) -> tuple[str, ...]:
        return tuple(role.value for role in self.step.roles)


@dataclass(frozen=True, slots=True)
class Progress:
    """All steps in their order."""

    states: tuple[StepState, ...]

    @property
    def left(self) -> int:
        return sum(not state.done for state in self.states)

    @property
    def may_quote(self) -> bool:
        """Whether everything the first quote cannot do without is done."""
        before = self.states[: [state.step for state in self.states].index(PlantStep.QUOTE)]
        return all(state.done or state.step in _NOT_IN_THE_WAY for state in before)


def progress_for(user: User, today: date) -> Progress:
    """What is done, and the first open step the person may take as the next one."""
    found = []
    has_next = False
    for step in PlantStep:
        done, may = _DONE[step](today), has_role(user, *step.roles)
        is_next = not done and may and not has_next
        has_next = has_next or is_next
        found.append(StepState(step, done, may, is_next))
    return Progress(tuple(found))


def _has_costed_stock(today: date) -> bool:
    active = BaseStock.objects.active()
    return bool(StockCost.objects.filter(stock__in=active, effective_from__lte=today).exists())


def _has_prices(today: date) -> bool:
    policy = PricePolicy.objects.filter(effective_from__lte=today)
    return bool(policy.exists()) and PriceTier.objects.filter(is_default=True).exists()


def _can_deliver(today: date) -> bool:
    """A zone; and a deck truck, unless every customer collects."""
    zones = FreightZone.objects.all()
    if not zones.filter(pick_up=False).exists():
        return zones.exists()
    return Truck.objects.filter(in_use=True, kind=Truck.Kind.DECK).exists()


def _has_people(today: date) -> bool:
    people = User.objects.filter(is_active=True)
    return all(
        people.filter(Q(groups__name=role.value) | Q(is_superuser=True)).exists()
        for role in NEEDED_ROLES
    )


def _has_customer(today: date) -> bool:
    """Somebody to mail to, and an address that is still used."""
    companies = Company.objects.filter(active=True, people__is_active=True)
    return companies.filter(ship_tos__active=True).exists()


def _has_fees(today: date) -> bool:
    """One looked up; for every further state the quote itself says that its fee is missing."""
    states = ShipTo.objects.filter(active=True).values("state")
    return StateFee.objects.filter(state__in=states).exists()


def _has_quote(today: date) -> bool:
    in_house = (Quote.Status.DRAFT, Quote.Status.AWAITING_APPROVAL)
    return Quote.objects.exclude(status__in=in_house).exists()


def _floor_is_ready(today: date) -> bool:
    """Every scale was verified once, and what is in every tank was signed or has been charged."""
    tanks = Tank.objects.filter(active=True)
    found = standings(tanks, today)
    never = any(each.state is ScaleState.NEVER for each in found)
    return bool(found) and not never and not tanks.filter(ledger__isnull=True).exists()


_DONE: Final[Mapping[PlantStep, Callable[[date], bool]]] = {
    PlantStep.PROFILE: lambda today: PlantProfile.stored() is not None,
    PlantStep.STOCKS: _has_costed_stock,
    PlantStep.PRICES: _has_prices,
    PlantStep.PACKAGES: lambda today: Package.objects.filter(active=True).exists(),
    PlantStep.TANKS: lambda today: Tank.objects.filter(active=True).exists(),
    PlantStep.DAYS: lambda today: ClosedDay.objects.exists(),
    PlantStep.DELIVERY: _can_deliver,
    PlantStep.PEOPLE: _has_people,
    PlantStep.CUSTOMER: _has_customer,
    PlantStep.FEES: _has_fees,
    PlantStep.QUOTE: _has_quote,
    PlantStep.SCALES: _floor_is_ready,
}
