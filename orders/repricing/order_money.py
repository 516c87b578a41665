"""What an order earns: as it was quoted, at today's costs, and with what was really weighed."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.utils import timezone

from blendshop.errors import BadInput
from blendshop.money import ZERO, money, unit_price
from formulas.engine_bridge import exact, load_catalogue
from formulas.models import BaseStock
from orders.models import Batch, BatchPart, Charge, Order, OrderLine
from orders.pricing import StepCode
from orders.production.made_record import MadeRecord, made_records
from orders.quoting.terms import terms_for
from orders.repricing.held_price import HeldQuote, held_quote

#: Batches whose weights are all in.
_MADE = (Batch.Status.MADE, Batch.Status.HELD, Batch.Status.RELEASED)


@dataclass(frozen=True, slots=True)
class Earned:
    """A margin over all lines; ``pct`` is None where nothing is left to take it of."""

    material: Decimal
    margin: Decimal
    pct: Decimal | None


@dataclass(frozen=True, slots=True)
class OrderMoney:
    """``quoted`` is at the costs of ``at_costs_of``, ``today`` at those of now or ``problem``.

    ``made`` counts what was weighed for the order at what each lot cost when it came in; for
    gallons that are not made yet (of ``made_gal`` out of ``gal``) it counts what was quoted. None
    before anything was made. ``without_cost`` are stocks weighed in that never had a cost.
    """

    at_costs_of: date
    quoted: Earned
    today: Earned | None
    floor_pct: Decimal | None
    is_below_floor: bool
    problem: str
    made: Earned | None
    made_gal: float
    gal: float
    without_cost: tuple[str, ...]

    @property
    def is_made_whole(self) -> bool:
        return self.made_gal >= self.gal


def order_money(order: Order, today: date) -> OrderMoney:
    """The money of an order, whose quote is fetched; margins as the customer's policy has it."""
    lines = list(order.lines.select_related("package"))
    quoted_material = sum((_material(line) for line in lines), ZERO)
    quoted_margin = sum((line.price_breakdown.earned for line in lines), ZERO)
    held, problem = _held(order, lines, today)
    charged = _charged(lines)
    whole = _whole(held, quoted_margin, lines)
    made = None
    if charged.gal:
        material = charged.material
        margin = quoted_margin - (material - quoted_material)
        made = Earned(material, margin, _pct(margin, whole))
    return OrderMoney(
        at_costs_of=order.at_costs_of,
        quoted=Earned(
            quoted_material,
            quoted_margin,
            held.margin_pct_then if held else _pct(quoted_margin, whole),
        ),
        today=None
        if held is None
        else Earned(_material_now(held), held.margin_now, held.margin_pct_now),
        floor_pct=None if held is None else held.floor_pct,
        is_below_floor=held is not None and held.is_below_floor,
        problem=problem,
        made=made,
        made_gal=charged.gal,
        gal=sum(line.volume_gal for line in lines),
        without_cost=charged.without_cost,
    )


@dataclass(frozen=True, slots=True)
class _Charged:
    """Material of all lines: weighed for so many gallons, as quoted for those still to make.

    In cents by line, as prices are, so that a figure over many orders is the sum of theirs.
    """

    material: Decimal
    gal: float
    without_cost: tuple[str, ...]


def _held(order: Order, lines: list[OrderLine], today: date) -> tuple[HeldQuote | None, str]:
    try:
        terms = terms_for(company=order.company, ship_to=order.ship_to, today=today)
        return held_quote(lines, terms, load_catalogue(today, include_short=True)), ""
    except BadInput as error:
        return None, error.message


def _charged(lines: list[OrderLine]) -> _Charged:
    parts = list(
        BatchPart.objects.filter(order_line__in=lines, batch__status__in=_MADE).select_related(
            "batch"
        )
    )
    records = made_records(part.batch for part in parts)
    shares = _gallons_of_batches(records)
    stocks = _stocks(records.values())
    material, gal, missing = ZERO, 0.0, set()
    for line in lines:
        cost, quantity = ZERO, 0
        for part in (part for part in parts if part.order_line_id == line.pk):
            record = records[part.batch_id]
            if record.made is None:  # made before weights were written down
                continue
            share = exact(part.consignment.volume_gal / shares[part.batch_id])
            for charge in _charges(record):
                per_lb = _cost_then(charge, stocks[charge.stock_id])
                if per_lb is None:
                    missing.add(stocks[charge.stock_id].name)
                else:
                    cost += share * charge.mass_lb * per_lb
            quantity += part.quantity
        made = min(1.0, quantity / line.quantity)
        gal += made * line.volume_gal
        material += money(cost + _material(line) * exact(1 - made))
    return _Charged(material, gal, tuple(sorted(missing)))


def _charges(record: MadeRecord) -> Iterable[Charge]:
    return (charge for step in record.steps for charge in step.charges)


def _gallons_of_batches(records: Mapping[int, MadeRecord]) -> dict[int, float]:
    gallons = dict.fromkeys(records, 0.0)
    for part in BatchPart.objects.filter(batch__in=records):
        gallons[part.batch_id] += part.consignment.volume_gal
    return gallons


def _stocks(records: Iterable[MadeRecord]) -> dict[int, BaseStock]:
    keys = {charge.stock_id for record in records for charge in _charges(record)}
    return BaseStock.objects.prefetch_related("costs").in_bulk(keys)


def _cost_then(charge: Charge, stock: BaseStock) -> Decimal | None:
    """Dollars per pound on the day the lot came in, else on the day it was weighed."""
    weighed = stock.cost_on(timezone.localdate(charge.at))
    bought = None if charge.lot is None else stock.cost_on(charge.lot.received_on)
    entry = bought or weighed
    return None if entry is None else entry.per_lb()


def _material(line: OrderLine) -> Decimal:
    return line.price_breakdown.amount(StepCode.MATERIAL)


def _material_now(held: HeldQuote) -> Decimal:
    steps = (step for line in held.then_and_now.lines for step in line.steps)
    return sum((step.now for step in steps if step.code == StepCode.MATERIAL), ZERO)


def _whole(held: HeldQuote | None, margin: Decimal, lines: list[OrderLine]) -> Decimal:
    """What a margin is a percentage of, as of the quoted one; the price where that is not known."""
    if held is not None and held.margin_pct_then:
        return 100 * held.margin_then / held.margin_pct_then
    return sum((line.line_total for line in lines), ZERO)


def _pct(margin: Decimal, whole: Decimal) -> Decimal | None:
    return unit_price(100 * margin / whole) if whole > 0 else None
