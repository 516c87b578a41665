"""Tank loads: what was planned, charged, read and filled of the orders."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from typing import Any, Final

from blendshop.accounts.models import User
from orders.demo.large.actions.business import WHY, Asked, People
from orders.demo.large.actions.catalogue import LotBook, stocks_by_code
from orders.demo.large.actions.tank_ledger import add_entries, free_tanks
from orders.demo.large.kinds import pounds
from orders.demo.large.size import PlantSize
from orders.demo.large.times import OrderTimes, order_times
from orders.demo.year.actions.dated import put_in
from orders.frozen.load_plan import LoadPlan
from orders.models import (
    Batch,
    BatchClosing,
    BatchEvent,
    BatchPart,
    Charge,
    Order,
    OrderLine,
    PackageSerial,
    QualityReading,
    StockMovement,
    Tank,
)
from orders.records.numbering import next_numbers
from orders.tanks.actions.looking import Found, Looked, look_and_sign

AT_ONCE: Final = 500
#: A batch is what its order is.
_BATCH_OF: Final = {
    Order.Status.SHIPPED: Batch.Status.RELEASED,
    Order.Status.MADE: Batch.Status.RELEASED,
    Order.Status.PLANNED: Batch.Status.PLANNED,
}


@dataclass(frozen=True, slots=True)
class _Load:
    """A batch that is thought out: its line, plan and which lot each stock came from."""

    line: OrderLine
    asked: Asked
    tank: Tank
    plan: LoadPlan
    status: Batch.Status
    lots: Mapping[str, str]
    times: OrderTimes


def add_tanks(size: PlantSize, worker: User) -> list[Tank]:
    """More tanks like the demo's two; each looked into and found empty."""
    patterns = list(Tank.objects.order_by("capacity_gal"))
    for number in range(len(patterns), size.tanks):
        pattern = patterns[number % len(patterns)]
        values = {
            field.name: getattr(pattern, field.name)
            for field in Tank._meta.concrete_fields
            if not field.primary_key
        }
        tank = Tank.objects.create(**{**values, "name": f"Mix tank {chr(ord('A') + number)}"})
        look_and_sign(
            tank=tank,
            looked=Looked(Found.EMPTY, note=WHY),
            key=f"large-tank-{tank.pk}",
            acting_user=worker,
        )
    return list(Tank.objects.order_by("name"))


def add_batches(
    size: PlantSize,
    lines: Sequence[tuple[OrderLine, Asked]],
    tanks: Sequence[Tank],
    people: People,
    today: date,
) -> None:
    """A load for each order that has been planned or more; the lots follow from what they took."""
    book = LotBook(stocks_by_code(), size, len(lines))
    to_make = [each for each in lines if each[0].order.status in _BATCH_OF]
    free = free_tanks(tanks)
    used = [_lots(at, line, asked, book) for at, (line, asked) in enumerate(to_make)]
    lots = book.write(people.office, today)
    numbers = next_numbers("B", len(to_make))
    for start in range(0, len(to_make), AT_ONCE):
        loads = []
        for at in range(start, min(len(to_make), start + AT_ONCE)):
            line, asked = to_make[at]
            status = _BATCH_OF[Order.Status(line.order.status)]
            is_past = status == Batch.Status.RELEASED
            tank = _tank(at, line.volume_gal, free if is_past else tanks)
            plan = asked.recipe.plan(tank, used[at])
            order = line.order
            times = order_times(at, order.due_on, Order.Status(order.status), today)
            loads.append(_Load(line, asked, tank, plan, status, used[at], times))
        _write(loads, numbers[start : start + AT_ONCE], lots, book, people)


def _lots(at: int, line: OrderLine, asked: Asked, book: LotBook) -> dict[str, str]:
    """Which lot the batch takes of each stock; what it weighs counts against the lot."""
    recipe = asked.recipe
    if line.order.status == Order.Status.PLANNED:
        return {share.code: book.current(share.code, at) for share in recipe.solved.recipe}
    return {
        share.code: book.take(share.code, at, pounds(round(share.pct / 100 * recipe.mass_lb, 1)))
        for share in recipe.solved.recipe
    }


def _tank(at: int, volume_gal: float, tanks: Sequence[Tank]) -> Tank:
    suiting = [tank for tank in tanks if tank.smallest_gal <= volume_gal <= tank.capacity_gal]
    return suiting[at % len(suiting)]


def _write(
    loads: Sequence[_Load],
    numbers: Sequence[str],
    lots: Mapping[str, Any],
    book: LotBook,
    people: People,
) -> None:
    rows = [
        Batch(
            number=number,
            load_number=1,
            load_count=1,
            tank=load.tank,
            status=load.status,
            target_gal=load.plan.volume_gal,
            target_lb=load.plan.mass_lb,
            plan=load.plan.to_json(),
            created_by=people.plant,
            created_at=load.times.planned,
        )
        for number, load in zip(numbers, loads, strict=True)
    ]
    batches = put_in(Batch, rows)
    parts = BatchPart.objects.bulk_create(
        BatchPart(
            batch=batch,
            position=1,
            order_line=load.line,
            quantity=load.line.quantity,
            delivery=_consignment(load),
        )
        for batch, load in zip(batches, loads, strict=True)
    )
    put_in(
        BatchEvent,
        (
            event
            for batch, load in zip(batches, loads, strict=True)
            for event in _events(batch, people.plant, load.times)
        ),
    )
    made = [
        (batch, part, load)
        for batch, part, load in zip(batches, parts, loads, strict=True)
        if load.status == Batch.Status.RELEASED
    ]
    add_entries(((batch, load.times.made) for batch, _, load in made), people.plant)
    movements, charges, serials, closings, readings = [], [], [], [], []
    for batch, part, load in made:
        signed: dict[str, Any] = {
            "by": people.plant, "who": str(people.plant), "at": load.times.made,
        }  # fmt: skip
        for number, step in enumerate(load.plan.steps, start=1):
            key = f"large-{batch.pk}-{number}"
            lot, mass_lb = lots[load.lots[step.code]], pounds(step.weight_lb)
            charges.append(
                Charge(
                    batch=batch, step=number, stock=book.stocks[step.code], lot=lot,
                    mass_lb=mass_lb, key=key, **signed,
                )
            )  # fmt: skip
            movements.append(
                StockMovement(
                    kind=StockMovement.Kind.USED, lot=lot, batch=batch, mass_lb=-mass_lb, key=key,
                    **signed,
                )
            )  # fmt: skip
        charged = sum((pounds(step.weight_lb) for step in load.plan.steps), Decimal(0))
        each_lb = Decimal(int(10 * charged / part.quantity)) / 10
        serials += [
            PackageSerial(
                part=part, serial=f"{batch.number}-{n}", net_lb=each_lb,
                key=f"large-{part.pk}-{n}", **signed,
            )
            for n in range(1, part.quantity + 1)
        ]  # fmt: skip
        closings.append(
            BatchClosing(
                batch=batch, charged_lb=charged, filled_lb=each_lb * part.quantity,
                loss_lb=charged - each_lb * part.quantity, why=WHY,
                key=f"large-close-{batch.pk}", **signed,
            )
        )  # fmt: skip
        readings.append(
            QualityReading(
                batch=batch, density_lb_per_gal=load.plan.density_lb_per_gal, temperature_f=60.0,
                density_at_reference=load.plan.density_lb_per_gal, reference_f=60.0,
                appearance=QualityReading.Appearance.CLEAR, note=WHY,
                key=f"large-read-{batch.pk}", **signed,
            )
        )  # fmt: skip
    StockMovement.objects.bulk_create(movements)
    Charge.objects.bulk_create(charges)
    PackageSerial.objects.bulk_create(serials)
    BatchClosing.objects.bulk_create(closings)
    QualityReading.objects.bulk_create(readings)


def _consignment(load: _Load) -> dict[str, Any]:
    pattern, place = load.asked.recipe.kind.part.consignment, load.asked.place
    return replace(
        pattern,
        customer_name=place.company.name,
        ship_to_lines=place.address_lines,
        ship_to=replace(pattern.ship_to, state=place.state, county=place.county, place=place.city),
        order_number=load.line.order.number,
        product_name=load.asked.recipe.name,
    ).to_json()


def _events(batch: Batch, worker: User, times: OrderTimes) -> Iterator[BatchEvent]:
    way = [Batch.Status.PLANNED]
    if batch.status == Batch.Status.RELEASED:
        way += [Batch.Status.CHARGING, Batch.Status.MADE, Batch.Status.RELEASED]
    for old, new in zip(["", *way], way, strict=False):
        data: dict[str, object] = {"hindrances": []} if new == Batch.Status.RELEASED else {}
        yield BatchEvent(
            batch=batch, by=worker, who=str(worker), from_status=old, to_status=new, why=WHY,
            data=data, at=times.planned if new == Batch.Status.PLANNED else times.made,
        )  # fmt: skip
