"""The one error of pricing, and the checks that raise it."""

from __future__ import annotations

from decimal import Decimal


class PricingError(ValueError):
    """An input that cannot be priced; ``field`` names it, ``message`` is a sentence."""

    def __init__(self, field: str, message: str) -> None:
        self.field = field
        self.message = message
        super().__init__(f"{field}: {message}")


def require_decimal(
    field: str,
    value: object,
    *,
    at_least: Decimal | None = None,
    above: Decimal | None = None,
    below: Decimal | None = None,
) -> None:
    """Refuse anything but a finite Decimal within the limits; floats are never converted."""
    if not isinstance(value, Decimal):
        raise PricingError(field, f"must be a Decimal, not a {type(value).__name__}.")
    if not value.is_finite():
        raise PricingError(field, f"must be a finite number, not {value}.")
    if at_least is not None and value < at_least:
        raise PricingError(field, f"must be at least {at_least}, not {value}.")
    if above is not None and value <= above:
        raise PricingError(field, f"must be above {above}, not {value}.")
    if below is not None and value >= below:
        raise PricingError(field, f"must be below {below}, not {value}.")


def require_count(field: str, value: object, *, at_least: int) -> None:
    """Refuse anything but a whole number of at least ``at_least``."""
    if not isinstance(value, int) or isinstance(value, bool):
        raise PricingError(field, f"must be a whole number, not {value!r}.")
    if value < at_least:
        raise PricingError(field, f"must be at least {at_least}, not {value}.")
