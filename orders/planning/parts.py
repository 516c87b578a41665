"""Who gets how much of a tank load: the frozen delivery of each part, and the load's packages."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from formulas.contracts.formulation_answer import PLACES
from orders.models import BatchPart, OrderLine
from orders.planning.loads import Load, load_gal


def unsaved_parts(load: Load, plan: Mapping[str, Any]) -> list[BatchPart]:
    """The parts of a planned load in their order, without their batch yet.

    A part has its share of the gallons that are really weighed in, by its share of the gallons
    that were asked for.
    """
    asked_gal = load_gal(load)
    return [
        BatchPart(
            position=position,
            order_line=part.line,
            quantity=part.quantity,
            delivery={
                **_addressee(part.line),
                "volume_gal": round(plan["volume_gal"] * float(part.gal / asked_gal), PLACES),
            },
        )
        for position, part in enumerate(load, start=1)
    ]


def _addressee(line: OrderLine) -> dict[str, Any]:
    """Customer, order, ship-to and package of this minute."""
    order, package = line.order, line.package
    return {
        "customer_name": order.company.name,
        "ship_to_lines": list(order.ship_to.address_lines),
        "ship_to": {
            "state": order.ship_to.state,
            "county": order.ship_to.county,
            "place": order.ship_to.city,
        },
        "order_number": order.number,
        "n_rate_lb_per_1000sqft": line.n_rate_lb_per_1000sqft,
        "package": {
            "name": package.name,
            "plural_name": package.plural_name,
            "is_bulk": package.is_bulk,
        },
    }


def filling_words(part: BatchPart) -> str:
    """What a part is filled into: "2 × 265 gal totes", in bulk "600 gal in bulk"."""
    package = part.delivery["package"]
    if part.is_bulk:
        return f"{part.quantity} gal in bulk"
    name = package["name"] if part.quantity == 1 else package["plural_name"]
    return f"{part.quantity} × {name}"
