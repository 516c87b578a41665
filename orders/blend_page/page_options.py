"""What the page may offer before anybody types: stocks, packages, customers, ship-tos."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from blendshop.accounts.models import Company, User
from blendshop.roles import SEES_COST, STAFF, roles_of
from formulas.engine_bridge import Catalogue, load_catalogue
from orders.models import Package, ShipTo


@dataclass(frozen=True, slots=True)
class PageOptions:
    """Everything the page may offer to one person on one day, read once per request."""

    today: date
    catalogue: Catalogue
    packages: tuple[Package, ...]
    companies: tuple[Company, ...]
    ship_tos: tuple[ShipTo, ...]
    is_staff: bool
    sees_cost: bool

    def package(self, code: str) -> Package | None:
        return next((package for package in self.packages if package.code == code), None)

    def company(self, pk: str) -> Company | None:
        return next((company for company in self.companies if str(company.pk) == pk), None)

    def ship_to(self, pk: str) -> ShipTo | None:
        return next((ship_to for ship_to in self.ship_tos if str(ship_to.pk) == pk), None)

    def ship_tos_of(self, company_pk: str) -> tuple[ShipTo, ...]:
        """The company's ship-tos; none while no company is chosen."""
        return tuple(place for place in self.ship_tos if str(place.company_id) == company_pk)

    @property
    def default_package(self) -> Package | None:
        """The smallest tote, else whatever there is: most blends leave by the tote."""
        totes = [package for package in self.packages if package.kind.startswith("tote")]
        return next(iter([*totes, *self.packages]), None)

    @property
    def default_company(self) -> str:
        """A customer's own company; staff begin with none."""
        return "" if self.is_staff or not self.companies else str(self.companies[0].pk)


def load_page_options(user: User, today: date) -> PageOptions:
    """Queries: the catalogue's five, and one each for packages, companies and ship-tos."""
    roles = roles_of(user)
    return PageOptions(
        today=today,
        catalogue=load_catalogue(today),
        packages=tuple(Package.objects.filter(active=True)),
        companies=tuple(Company.objects.visible_to(user).filter(active=True)),
        ship_tos=tuple(
            ShipTo.objects.visible_to(user)
            .filter(active=True, company__active=True)
            .select_related("company", "zone")
        ),
        is_staff=bool(roles & STAFF),
        sees_cost=bool(roles & SEES_COST),
    )
