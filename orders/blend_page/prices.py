"""What the blend costs its buyer, in the package and to the place chosen on the page."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from blendshop.errors import BadInput
from blendshop.money import money
from formulas.engine.result import Blend
from orders import price_bridge
from orders.blend_page.desk import Desk
from orders.blend_page.wish_form import WishForm
from orders.models import Package
from orders.pricing import CustomerLine, PriceBreak, PriceBreakdown, customer_lines


@dataclass(frozen=True, slots=True)
class Price:
    """A price, or in ``problem`` the sentence why there is none."""

    package: Package | None
    breakdown: PriceBreakdown | None = None
    lines: tuple[CustomerLine, ...] = ()
    breaks: tuple[PriceBreak, ...] = ()
    problem: str = ""

    @property
    def per_gal(self) -> Decimal | None:
        """To the cent, for reading; the exact figure stands in the breakdown."""
        return None if self.breakdown is None else money(self.breakdown.price_per_gal)

    @property
    def per_1000sqft(self) -> Decimal | None:
        """To the cent, at the N rate of the spray sheet; None without nitrogen or rate."""
        price = None if self.breakdown is None else self.breakdown.price_per_1000sqft
        return None if price is None else money(price)

    @property
    def per_package(self) -> Decimal | None:
        """To the cent; None in bulk."""
        price = None if self.breakdown is None else self.breakdown.price_per_package
        return None if price is None else money(price)


class Pricer:
    """Prices blends on the terms chosen in a valid form."""

    def __init__(self, form: WishForm) -> None:
        cleaned = form.cleaned_data
        self.desk: Desk = form.desk
        self.package = self.desk.package(cleaned["package"])
        self.quantity: int = cleaned["quantity"]
        self.n_rate: float | None = cleaned.get("n_rate")
        self.company = self.desk.company(cleaned["company"])
        self.ship_to = self.desk.ship_to(cleaned["ship_to"])

    def price(self, blend: Blend, *, with_breaks: bool = False) -> Price:
        """One blend alone; a price that cannot be made is said in a sentence, not raised."""
        if self.package is None:
            return Price(None, problem="No package is set up: the office adds one.")
        try:
            line = price_bridge.request_for(
                blend,
                catalogue=self.desk.catalogue,
                package=self.package,
                quantity=self.quantity,
                n_rate=self.n_rate,
            )
            breakdown = price_bridge.price_lines(
                [line], company=self.company, ship_to=self.ship_to, today=self.desk.today
            ).lines[0]
            breaks: tuple[PriceBreak, ...] = ()
            if with_breaks:
                breaks = price_bridge.price_breaks(
                    line, company=self.company, ship_to=self.ship_to, today=self.desk.today
                )
        except BadInput as bad:
            return Price(self.package, problem=bad.message)
        return Price(self.package, breakdown, customer_lines(breakdown), breaks)
