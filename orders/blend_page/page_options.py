"""What the page may offer before anybody types: stocks, packages, customers, ship-tos."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from typing import Any, Final

from django.db.models import QuerySet

from blendshop.accounts.models import Company, User
from blendshop.accounts.search import named
from blendshop.plant_steps import NotSetUp
from blendshop.roles import SEES_COST, STAFF, roles_of
from blendshop.searched_rows import FEW, Offer, is_key, offer_of_rows
from formulas.engine_bridge import Catalogue, load_catalogue
from orders.models import Package, ShipTo, SprayHabit, Tank
from orders.planning.default_load import tanks_in_use
from orders.records.ship_tos import ship_tos_at

#: More customers than this are searched: what is looked for in a call is typed.
AT_A_GLANCE: Final = 8


@dataclass(frozen=True)
class PageOptions:
    """Everything the page may offer to one person on one day.

    Customers and ship-tos are asked for as they are needed, each once a request: a plant has
    thousands of them.
    """

    today: date
    catalogue: Catalogue
    packages: tuple[Package, ...]
    customers: QuerySet[Company]
    places: QuerySet[ShipTo]
    is_staff: bool
    sees_cost: bool
    _asked: dict[tuple[str, str], Any] = field(default_factory=dict, repr=False, compare=False)

    def package(self, code: str) -> Package | None:
        return next((package for package in self.packages if package.code == code), None)

    def company(self, pk: str) -> Company | None:
        asked = ("company", pk)
        if asked not in self._asked:
            self._asked[asked] = self.customers.filter(pk=pk).first() if is_key(pk) else None
        found: Company | None = self._asked[asked]
        return found

    def companies_offered(self, words: str, chosen: str) -> Offer:
        return offer_of_rows(
            self.customers, find=named, words=words, chosen=chosen, few=AT_A_GLANCE
        )

    def spray_habit_of(self, company_pk: str) -> SprayHabit | None:
        """How the company sprayed last; None for one that may not be seen."""
        asked = ("spray_habit", company_pk)
        if asked not in self._asked:
            company = self.company(company_pk)
            self._asked[asked] = company and SprayHabit.objects.filter(company=company).first()
        found: SprayHabit | None = self._asked[asked]
        return found

    def ship_to(self, pk: str) -> ShipTo | None:
        asked = ("ship_to", pk)
        if asked not in self._asked:
            self._asked[asked] = self.places.filter(pk=pk).first() if is_key(pk) else None
        found: ShipTo | None = self._asked[asked]
        return found

    def first_ship_to_of(self, company_pk: str) -> ShipTo | None:
        """Where the company has its blends brought unless it says otherwise."""
        return next(iter(self._some_ship_tos_of(company_pk)), None)

    def ship_tos_offered(self, company_pk: str, words: str, chosen: str) -> Offer:
        """The company's; none while no company is chosen."""
        some = self._some_ship_tos_of(company_pk)
        if len(some) <= FEW:
            return Offer(tuple((str(place.pk), str(place)) for place in some), is_part=False)
        of_company = self.places.filter(company=int(company_pk))
        return offer_of_rows(of_company, find=ship_tos_at, words=words, chosen=chosen)

    def _some_ship_tos_of(self, company_pk: str) -> tuple[ShipTo, ...]:
        """The first of them, one more than are offered without a search."""
        asked = ("ship_tos_of", company_pk)
        if asked not in self._asked:
            theirs = self.places.none()
            if is_key(company_pk):
                theirs = self.places.filter(company=int(company_pk))
            rows = tuple(theirs[: FEW + 1])
            self._asked[asked] = rows
            self._asked.update((("ship_to", str(place.pk)), place) for place in rows)
        found: tuple[ShipTo, ...] = self._asked[asked]
        return found

    @property
    def tanks(self) -> tuple[Tank, ...]:
        """Those in use, the smallest first; NotSetUp when there is none."""
        asked = ("tanks", "")
        if asked not in self._asked:
            self._asked[asked] = tanks_in_use()
        found: tuple[Tank, ...] = self._asked[asked]
        return found

    @property
    def tanks_or_none(self) -> tuple[Tank, ...]:
        """The same; none where none is set up."""
        try:
            return self.tanks
        except NotSetUp:
            return ()

    @property
    def stocks(self) -> list[tuple[str, str]]:
        """Code and name of what may be blended today, by name."""
        named_by = [(stock.code, stock.name) for stock in self.catalogue.stocks]
        return sorted(named_by, key=lambda choice: choice[1])

    @property
    def default_package(self) -> Package | None:
        """The smallest tote, else whatever there is: most blends leave by the tote."""
        totes = [package for package in self.packages if package.kind.startswith("tote")]
        return next(iter([*totes, *self.packages]), None)

    @property
    def default_company(self) -> str:
        """A customer's own company; staff begin with none."""
        asked = ("default_company", "")
        if asked not in self._asked:
            own = None if self.is_staff else self.customers.first()
            self._asked[asked] = "" if own is None else str(own.pk)
        found: str = self._asked[asked]
        return found


def load_page_options(user: User, today: date) -> PageOptions:
    """Queries: the catalogue's five, and one for packages."""
    roles = roles_of(user)
    return PageOptions(
        today=today,
        catalogue=load_catalogue(today),
        packages=tuple(Package.objects.filter(active=True)),
        customers=customers_of(user),
        places=ship_tos_of(user),
        is_staff=bool(roles & STAFF),
        sees_cost=bool(roles & SEES_COST),
    )


def customers_of(user: User) -> QuerySet[Company]:
    """Whom a blend may be for."""
    found: QuerySet[Company] = Company.objects.visible_to(user).filter(active=True)
    return found


def ship_tos_of(user: User) -> QuerySet[ShipTo]:
    """Where it may go."""
    found: QuerySet[ShipTo] = (
        ShipTo.objects.visible_to(user)
        .filter(active=True, company__active=True)
        .select_related("company", "zone")
    )
    return found
