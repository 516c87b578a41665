"""An order's filled packages to its packing list."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from django.utils.translation import gettext, gettext_noop

from blendshop.errors import IllegalMove
from orders.models import Batch, BatchPart, Order, PlantProfile
from orders.papers import plant_view_models as paper
from orders.papers.standing_texts import told_to_customers
from orders.planning.mixture import planned_hazards
from orders.production.made_record import made_record
from orders.production.net_weight import estimated_package_lb
from orders.production.sold_as import sold_as
from orders.records.letterhead import Party, plant_block
from orders.records.written import ENGLISH, has_english_beside, writing, written_for

TRANSPORT: Final = gettext_noop(
    "This list does not classify the goods for transport. Whether they are regulated, and every"
    " marking, placard and shipping paper, is for the shipper to decide from section 14 of each"
    " product's SDS and the rules of the carriage."
)


def packing_list_view(order: Order) -> paper.PackingListView:
    """Every package of the order's released batches, in the customer's language and units.

    IllegalMove while none of them is filled.
    """
    written = written_for(order.company)
    with writing(written):
        view = replace(_gathered(order), written=written)
    if not has_english_beside(written):
        return view
    with writing(ENGLISH):
        return replace(view, in_english=replace(_gathered(order), written=ENGLISH))


def _gathered(order: Order) -> paper.PackingListView:
    parts = list(
        BatchPart.objects.filter(order_line__order=order, batch__status=Batch.Status.RELEASED)
        .select_related("order_line__package", "batch")
        .order_by("pk")
    )
    lines = tuple(_packed(part) for part in parts)
    if not any(line.packages for line in lines):
        raise IllegalMove(f"No package of {order.number} is filled yet; there is nothing to list.")
    plans = [part.batch.load_plan for part in parts]
    told = [
        text.text
        for plan in plans
        for text in told_to_customers(plan.analysis, planned_hazards(plan))
    ]
    return paper.PackingListView(
        plant=plant_block(PlantProfile.load()),
        number=order.number,
        customer=Party(order.company.name),
        ship_to=Party(order.ship_to.label, order.ship_to.address_lines[1:]),
        customer_reference=order.customer_reference,
        lines=lines,
        cautions=tuple(dict.fromkeys(told)),
        transport=gettext(TRANSPORT),
        customer_note=order.note or None,
    )


def _packed(part: BatchPart) -> paper.PackedLine:
    record, package = made_record(part.batch), part.order_line.package
    filled = record.packages_of(part)
    missing = max(0, part.package_count - len(filled))
    return paper.PackedLine(
        product_name=part.product_name,
        grade=sold_as(record, part).grade,
        batch_number=part.batch.number,
        package_name=package.name,
        tare_lb=package.tare_lb,
        packages=tuple(paper.PackageLine(each.serial, each.net_lb) for each in filled),
        not_weighed=missing,
        estimated_lb=missing * estimated_package_lb(record, part),
    )
