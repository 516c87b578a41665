"""What a rep gives off a price, in dollars or percent."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from blendshop.money import format_money, money
from orders.pricing.checks import PricingError, require_decimal
from orders.pricing.wording import count, number, percent, rate

_ZERO = Decimal(0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Discount:
    """Off a line's price without deposit; exactly one is given.

    ``pct`` is percent of that price, ``per_gal`` and ``per_package`` are dollars for each gallon
    or package, ``amount`` is dollars for the whole line.
    """

    pct: Decimal | None = None
    per_gal: Decimal | None = None
    per_package: Decimal | None = None
    amount: Decimal | None = None

    def __post_init__(self) -> None:
        given = {
            "discount.pct": self.pct,
            "discount.per_gal": self.per_gal,
            "discount.per_package": self.per_package,
            "discount.amount": self.amount,
        }
        named = {field: value for field, value in given.items() if value is not None}
        if len(named) != 1:
            raise PricingError("discount", "give exactly one of percent, per gal, package, amount.")
        for field, value in named.items():
            limit = Decimal(100) if field == "discount.pct" else None
            require_decimal(field, value, at_least=_ZERO, below=limit)

    def off(
        self, price: Decimal, *, volume_gal: Decimal, packages: int, currency: str
    ) -> tuple[Decimal, str]:
        """The amount in cents off ``price``, and how it came about; PricingError beyond the price.

        ``packages`` is 0 in bulk.
        """
        if self.pct is not None:
            off = money(price * self.pct / 100)
            basis = f"{percent(self.pct)} of {format_money(price, currency)}"
        elif self.per_gal is not None:
            off = money(volume_gal * self.per_gal)
            basis = f"{number(volume_gal)} gal at {rate(self.per_gal, currency)}"
        elif self.per_package is not None:
            if not packages:
                raise PricingError("discount.per_package", "bulk goes by the gallon.")
            off = money(packages * self.per_package)
            each = rate(self.per_package, currency)
            basis = f"{count(packages, 'package', 'packages')} at {each}"
        else:
            off = money(self.amount or _ZERO)
            basis = f"{format_money(off, currency)} on the line"
        if off > price:
            shown = format_money(price, currency)
            raise PricingError("discount", f"takes more off than the price of {shown}.")
        return off, f"given by the rep: {basis}"
