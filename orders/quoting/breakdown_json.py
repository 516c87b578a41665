"""A price breakdown frozen as JSON, and read back digit for digit."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from decimal import Decimal
from typing import Any, Final

from orders import pricing
from orders.pricing import PriceBreakdown, StepCode


def to_json(breakdown: PriceBreakdown) -> dict[str, Any]:
    """The whole breakdown as plain JSON values; every Decimal a string with all its digits."""
    plain: dict[str, Any] = _plain(dataclasses.asdict(breakdown))
    return plain


def from_json(data: Mapping[str, Any]) -> PriceBreakdown:
    """The breakdown ``to_json`` wrote, digit for digit."""
    steps = tuple(
        pricing.PriceStep(
            StepCode(step["code"]),
            step["label"],
            step["basis"],
            Decimal(step["amount"]),
            Decimal(step["running_total"]),
        )
        for step in data["steps"]
    )
    material = tuple(
        pricing.MaterialLine(
            stock["code"],
            stock["name"],
            Decimal(stock["lb"]),
            Decimal(stock["cost_per_lb"]),
            Decimal(stock["amount"]),
        )
        for stock in data["material"]
    )
    rest = {name: None if data[name] is None else Decimal(data[name]) for name in _DECIMAL_FIELDS}
    return PriceBreakdown(
        steps=steps,
        material=material,
        packages=data["packages"],
        approval_reason=data["approval_reason"],
        shown_to_customer=frozenset(StepCode(code) for code in data["shown_to_customer"]),
        **rest,  # type: ignore[arg-type]
    )


_DECIMAL_FIELDS: Final = tuple(
    field.name
    for field in dataclasses.fields(PriceBreakdown)
    if field.name not in {"steps", "material", "packages", "approval_reason", "shown_to_customer"}
)


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, frozenset):
        return sorted(_plain(item) for item in value)
    if isinstance(value, tuple):
        return [_plain(item) for item in value]
    if isinstance(value, Decimal):
        return str(value)
    return value.value if isinstance(value, StepCode) else value
