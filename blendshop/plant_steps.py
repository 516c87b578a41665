"""What a plant sets once before it can work: in which order, on which page, and who does it.

Whatever finds that something is missing raises ``NotSetUp`` or names the step, so that every page
says the same and leads there. Whether a step is done is read in ``orders/first_steps``.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from blendshop.errors import BadInput
from blendshop.roles import Role

#: Of the session: whether steps are left, as its person last saw them. The menu reads it.
STEPS_LEFT: Final = "plant_steps_left"


@dataclass(frozen=True, slots=True)
class _About:
    """A step's name, what it is for, the route of its page and the roles that may do it."""

    name: Promise
    purpose: Promise
    route: str
    roles: tuple[Role, ...]


class PlantStep(StrEnum):
    """The steps in the order in which they are best taken."""

    PROFILE = "profile"
    STOCKS = "stocks"
    PRICES = "prices"
    PACKAGES = "packages"
    TANKS = "tanks"
    DAYS = "days"
    DELIVERY = "delivery"
    PEOPLE = "people"
    CUSTOMER = "customer"
    FEES = "fees"
    QUOTE = "quote"
    SCALES = "scales"

    @property
    def words(self) -> Promise:
        return _ABOUT[self].name

    @property
    def purpose(self) -> Promise:
        return _ABOUT[self].purpose

    @property
    def route(self) -> str:
        return _ABOUT[self].route

    @property
    def roles(self) -> tuple[Role, ...]:
        return _ABOUT[self].roles


_ABOUT: Final = {
    PlantStep.PROFILE: _About(
        _("Plant profile"),
        _("Name, address, phone and licence line: the head of every quote, ticket and label."),
        "plant_profile",
        (Role.OFFICE,),
    ),
    PlantStep.STOCKS: _About(
        _("Stocks and their costs"),
        _("What the plant blends from. A stock without a cost is left out of every blend."),
        "stock_costs",
        (Role.OFFICE, Role.FORMULATOR),
    ),
    PlantStep.PRICES: _About(
        _("Prices"),
        _("Shrink, fees and margin: what turns the cost of a blend into its price."),
        "price_setting",
        (Role.OFFICE,),
    ),
    PlantStep.PACKAGES: _About(
        _("Packages"),
        _("What the liquid leaves in: totes, drums, bulk."),
        "package_setting",
        (Role.OFFICE,),
    ),
    PlantStep.TANKS: _About(
        _("Tanks"),
        _("Blending tanks and the scales they weigh on: a load is priced as it will be weighed."),
        "tank_setting",
        (Role.OFFICE,),
    ),
    PlantStep.DAYS: _About(
        _("Working days"),
        _("Days of the week, hours and holidays: by when an order can be made is counted in them."),
        "day_setting",
        (Role.OFFICE,),
    ),
    PlantStep.DELIVERY: _About(
        _("Delivery"),
        _("Freight zones and the truck; a customer's address is in a zone, or collects."),
        "delivery_setting",
        (Role.OFFICE,),
    ),
    PlantStep.PEOPLE: _About(
        _("People"),
        _("Who charges loads and who approves labels; one person may do both."),
        "people_setting",
        (Role.OFFICE,),
    ),
    PlantStep.CUSTOMER: _About(
        _("First customer"),
        _("A company with somebody to mail to and an address to deliver to."),
        "customer_list",
        (Role.REP, Role.OFFICE),
    ),
    PlantStep.FEES: _About(
        _("State fees"),
        _("What the states you deliver to charge per ton: a line of every price there."),
        "fee_setting",
        (Role.OFFICE,),
    ),
    PlantStep.QUOTE: _About(
        _("First quote"),
        _("Work out a blend, save it, quote it and send it."),
        "blend_page",
        (Role.REP, Role.OFFICE),
    ),
    PlantStep.SCALES: _About(
        _("Scales verified, tanks looked into"),
        _("Before the first load: known loads on every scale, and what is in every tank signed."),
        "scale_list",
        (Role.PLANT, Role.FORMULATOR),
    ),
}


class NotSetUp(BadInput):
    """The plant has not set yet what was asked for needs; ``step`` is where it is set."""

    def __init__(
        self, message: str, step: PlantStep, *, fields: Mapping[str, str] | None = None
    ) -> None:
        self.step = step
        super().__init__(message, fields=fields)


def step_of(error: Exception) -> PlantStep | None:
    """The step an error asks for; None when it is about something else."""
    return error.step if isinstance(error, NotSetUp) else None
