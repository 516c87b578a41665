"""Who gets how much of a tank load: the frozen delivery of each part, and the load's packages."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal

from django.utils.translation import gettext as _

from formulas.contracts.formulation_answer import PLACES
from orders.frozen.consignment import Consignment, PackageName, Place
from orders.frozen.load_plan import LoadPlan
from orders.models import BatchPart
from orders.planning.loads import Load, LoadPart, load_gal
from orders.records.plant_words import package_words

#: Label lines, percent by key, of each order line by its id.
LabelsOfLines = Mapping[int, Mapping[str, Decimal]]


def unsaved_parts(load: Load, plan: LoadPlan, labels: LabelsOfLines) -> list[BatchPart]:
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
            delivery=_consignment(
                part,
                round(plan.volume_gal * float(part.gal / asked_gal), PLACES),
                labels[part.line.pk],
            ).to_json(),
        )
        for position, part in enumerate(load, start=1)
    ]


def _consignment(
    part: LoadPart, volume_gal: float, printed_pct: Mapping[str, Decimal]
) -> Consignment:
    """Customer, order, ship-to and package of this minute."""
    line, order, package = part.line, part.line.order, part.line.package
    return Consignment(
        customer_name=order.company.name,
        ship_to_lines=tuple(order.ship_to.address_lines),
        ship_to=Place(order.ship_to.state, order.ship_to.county, order.ship_to.city),
        order_number=order.number,
        n_rate_lb_per_1000sqft=line.n_rate_lb_per_1000sqft,
        package=PackageName(package.name, package.plural_name, package.is_bulk),
        volume_gal=volume_gal,
        asked_gal=float(part.gal),
        printed_pct=dict(printed_pct),
        product_name=line.revision.blend.name,
    )


def filling_words(part: BatchPart) -> str:
    """What a part is filled into: "2 × 265 gal totes", in bulk "600 gal in bulk"."""
    package = part.consignment.package
    if part.is_bulk:
        return _("%(quantity)s gal in bulk") % {"quantity": part.quantity}
    name = package.name if part.quantity == 1 else package.plural_name
    return f"{part.quantity} × {package_words(name, part.quantity)}"
