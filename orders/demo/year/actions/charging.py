"""What went into each tank and came out: charges, corrections, readings, packages, ledger."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date, datetime, timedelta
from decimal import Decimal
from random import Random
from typing import Any, Final

from blendshop.accounts.models import User
from formulas.engine.composition import with_total_n
from formulas.engine_bridge import exact
from formulas.models import BaseStock
from orders.demo.year import calendar
from orders.demo.year.actions.batches import Made
from orders.demo.year.actions.dated import put_in
from orders.demo.year.corrections import SLIP, TOO_MUCH
from orders.demo.year.quotes import SEED
from orders.demo.year.weighing import Course
from orders.frozen.load_plan import FrozenStock
from orders.frozen.tank_contents import TankContents, TankState
from orders.models import (
    BatchClosing,
    Charge,
    PackageSerial,
    PlanAddition,
    QualityReading,
    ReversedCharge,
    StockMovement,
    Tank,
    TankEntry,
    TankRinse,
)
from orders.production.made_portions import AS_CHARGED
from orders.production.release_checks import Reading, findings
from orders.tanks.actions.draining import MEASURED
from orders.tanks.mixing import Portion, mixed

WHY: Final = "Demo, invented."
_RINSED_OUT: Final = "Rinsed out with the tank. Demo, invented."
_LARGER: Final = "More than was ordered after the correction, disposed of. Demo, invented."
_WATER_LB: Final = Decimal(400)
_RINSED: Final = TankContents(
    state=TankState.EMPTY, basis=f"Rinsed with {_WATER_LB} lb of water, to approved disposal."
)
#: How far apart two readings of one liquid lie, lb/gal; and of a package's net weight, a part.
_READ_SPREAD: Final = 0.006
_FILL_SPREAD: Final = 0.0012
#: A laboratory looks at one batch of so many, at these lines; it reads within a part of each.
_OF_SO_MANY: Final = 4
_ASSAYED: Final = ("N", "P2O5", "K2O", "Fe")
_ASSAY_SPREAD: Final = 0.004
_LAB: Final = "Demo laboratory, report {number}, invented"
_LAST_READING: Final = "2"
#: Minutes after a release at which it is filled, closed and the tank is rinsed.
_FILLED: Final = 50
_CLOSED: Final = 80
_TANK_RINSED: Final = 110
Kind = TankEntry.Kind


def sign_tanks(worker: User, day: date) -> None:
    """Before the year every tank was looked into and found empty."""
    empty = TankContents(state=TankState.EMPTY, basis="as looked and signed")
    put_in(
        TankEntry,
        (
            TankEntry(
                tank=tank,
                kind=Kind.LOOKED,
                contents=empty.to_json(),
                note=WHY,
                key=f"demo-year-look-{tank.pk}",
                **_signed(worker, calendar.moment(day, 6 * 60)),
            )
            for tank in Tank.objects.order_by("pk")
        ),
    )


def add_charges(made: Sequence[Made], worker: User) -> None:
    """Everything that was weighed, and what it took from the lots."""
    stocks = dict(BaseStock.objects.values_list("code", "pk"))
    put_in(PlanAddition, (row for each in made for row in _additions(each, stocks, worker)))
    charges: list[Charge] = []
    movements: list[StockMovement] = []
    slips: list[Charge] = []
    for each in made:
        for weight in each.weighed.weights:
            lot = each.lots.get(weight.code)
            suffix = "-slip" if weight.is_reversed else ""
            charge = Charge(
                batch=each.batch,
                step=weight.step,
                stock_id=stocks[weight.code],
                lot=lot,
                mass_lb=exact(weight.lb),
                weighed_at=each.at(weight.minutes),
                key=f"demo-year-{each.batch.number}-{weight.step}{suffix}",
                **_signed(worker, each.at(weight.minutes)),
            )
            charges.append(charge)
            if weight.is_reversed:
                slips.append(charge)
            if lot is not None:
                movements += _moved(charge, worker, is_reversed=weight.is_reversed)
    put_in(Charge, charges)
    put_in(StockMovement, sorted(movements, key=lambda row: row.at))
    put_in(
        ReversedCharge,
        (
            ReversedCharge(
                charge=charge,
                why=SLIP,
                key=f"{charge.key}-back",
                **_signed(worker, charge.at + timedelta(minutes=1)),
            )
            for charge in slips
        ),
    )


def add_outcome(made: Sequence[Made], worker: User) -> dict[int, TankContents]:
    """Readings, packages, balances and the ledgers of the tanks; what each batch came out as."""
    chance = Random(SEED + 1)  # noqa: S311 - the same plant each time, no secret
    readings: list[QualityReading] = []
    serials: list[PackageSerial] = []
    closings: list[BatchClosing] = []
    entries: list[tuple[Made, TankEntry]] = []
    came_out: dict[int, TankContents] = {}
    for each in made:
        whole = mixed(each.batch, _portions(each), None, AS_CHARGED)
        came_out[each.batch.pk] = whole
        readings += _readings(each, whole, worker, chance)
        filled = list(_packages(each, whole, worker, chance))
        serials += filled
        closings.append(_closing(each, filled, worker))
        entries += [(each, entry) for entry in _entries(each, whole, worker)]
    put_in(QualityReading, readings)
    put_in(PackageSerial, serials)
    put_in(BatchClosing, closings)
    rinses = put_in(TankRinse, (_rinse(each, worker) for each in made))
    of_batch = {rinse.batch_id: rinse for rinse in rinses}
    for each, entry in entries:
        if entry.kind == Kind.RINSED:
            entry.rinse = of_batch[each.batch.pk]
    put_in(TankEntry, (entry for _each, entry in sorted(entries, key=lambda pair: pair[1].at)))
    return came_out


def _signed(worker: User, at: datetime) -> dict[str, Any]:
    return {"by": worker, "who": str(worker), "at": at}


def _additions(each: Made, stocks: dict[str, int], worker: User) -> Iterator[PlanAddition]:
    plain = each.plan.steps
    for number, weighing in enumerate(each.weighed.additions, start=len(plain) + 1):
        at = each.at(each.weighed.weights[len(plain) - 1].minutes + 30)
        yield PlanAddition(
            batch=each.batch,
            position=number,
            stock_id=stocks[weighing.code],
            weight_lb=exact(weighing.weight_lb),
            step=weighing.to_json(),
            why=TOO_MUCH,
            key=f"demo-year-{each.batch.number}-more-{number}",
            **_signed(worker, at),
        )


def _moved(charge: Charge, worker: User, *, is_reversed: bool) -> Iterator[StockMovement]:
    yield StockMovement(
        kind=StockMovement.Kind.USED,
        lot=charge.lot,
        batch=charge.batch,
        mass_lb=-charge.mass_lb,
        key=f"charge:{charge.key}",
        **_signed(worker, charge.at),
    )
    if is_reversed:
        yield StockMovement(
            kind=StockMovement.Kind.ADJUSTED,
            lot=charge.lot,
            batch=charge.batch,
            mass_lb=charge.mass_lb,
            why=f"Charge into {charge.batch.number} reversed: {SLIP}",
            key=f"back:{charge.key}",
            **_signed(worker, charge.at + timedelta(minutes=1)),
        )


def _portions(each: Made, steps: int | None = None) -> list[Portion]:
    """What is in the tank, all of it or of the first steps, by the lots' certificates."""
    figures: dict[str, FrozenStock] = {}
    for step in each.plan.steps:
        lot = each.lots.get(step.code)
        own = {} if lot is None else {
            "analysis": {**step.analysis, **lot.analysis()},
            "density_lb_per_gal": lot.density(),
        }  # fmt: skip
        figures[step.code] = FrozenStock.extending(step, **own)
    return [
        Portion(figures[weight.code], weight.lb)
        for weight in each.weighed.weights
        if not weight.is_reversed and (steps is None or weight.step <= steps)
    ]


def _readings(
    each: Made, whole: TankContents, worker: User, chance: Random
) -> Iterator[QualityReading]:
    if each.weighed.course is Course.CORRECTED:
        steps = len(each.plan.steps)
        before = mixed(each.batch, _portions(each, steps), None, AS_CHARGED)
        at = each.at(each.weighed.weights[steps - 1].minutes + 25)
        yield _reading(each, before, at, "1", worker, chance)
    yield _reading(each, whole, each.done_at + timedelta(minutes=20), _LAST_READING, worker, chance)


def _reading(
    each: Made, held: TankContents, at: datetime, nth: str, worker: User, chance: Random
) -> QualityReading:
    density = round((held.density_lb_per_gal or 0.0) + chance.gauss(0, _READ_SPREAD), 3)
    clear = QualityReading.Appearance.CLEAR
    window = each.plan.density_window
    lab = _sent_to_the_laboratory(each, held, chance) if nth == _LAST_READING else {}
    reading = Reading(density, window.temperature_f, None, clear, note=WHY, lab_analysis=lab)
    return QualityReading(
        batch=each.batch,
        density_lb_per_gal=density,
        temperature_f=window.temperature_f,
        density_at_reference=density,
        reference_f=window.temperature_f,
        appearance=clear,
        note=WHY,
        lab_analysis=lab,
        lab_source=_LAB.format(number=each.batch.number) if lab else "",
        findings=findings(each.batch, reading, density),
        key=f"demo-year-{each.batch.number}-read-{nth}",
        **_signed(worker, at),
    )


def _sent_to_the_laboratory(each: Made, held: TankContents, chance: Random) -> dict[str, float]:
    """What a laboratory found of every so many batches: the grade, each line a little off.

    Never below what was promised: a batch it finds short is not the demo's to release.
    """
    if chance.randrange(_OF_SO_MANY):
        return {}
    least = {key: float(pct) for key, pct in each.plan.printed_pct.items()}
    found = {}
    held_pct = with_total_n(held.analysis)
    for key in _ASSAYED:
        if pct := held_pct.get(key, 0.0):
            read = round(pct * (1 + chance.gauss(0, _ASSAY_SPREAD)), 2)
            found[key] = max(read, least.get(key, 0.0))
    return found


def _packages(
    each: Made, whole: TankContents, worker: User, chance: Random
) -> Iterator[PackageSerial]:
    """Each filled to its nominal gallons, weighed to the pound; no more than is in the tank."""
    count = sum(part.package_count for part in each.parts)
    most = int(whole.mass_lb / count)
    number = 0
    for part in each.parts:
        gal = part.consignment.filled_gal / part.package_count
        for _package in range(part.package_count):
            number += 1
            lb = gal * (whole.density_lb_per_gal or 0.0) * (1 + chance.gauss(0, _FILL_SPREAD))
            yield PackageSerial(
                part=part,
                serial=f"{each.batch.number}-{number:02d}",
                net_lb=Decimal(min(most, int(lb))),
                key=f"demo-year-{each.batch.number}-fill:{number}",
                **_signed(worker, each.released_at + timedelta(minutes=_FILLED)),
            )


def _closing(each: Made, filled: Sequence[PackageSerial], worker: User) -> BatchClosing:
    charged = sum(
        (exact(weight.lb) for weight in each.weighed.weights if not weight.is_reversed), Decimal(0)
    )
    in_packages = sum((package.net_lb for package in filled), Decimal(0))
    return BatchClosing(
        batch=each.batch,
        charged_lb=charged,
        filled_lb=in_packages,
        loss_lb=charged - in_packages,
        why=_LARGER if each.weighed.course is Course.CORRECTED else _RINSED_OUT,
        key=f"demo-year-{each.batch.number}-close",
        **_signed(worker, each.released_at + timedelta(minutes=_CLOSED)),
    )


def _rinse(each: Made, worker: User) -> TankRinse:
    return TankRinse(
        tank_id=each.batch.tank_id,
        batch=each.batch,
        water_lb=_WATER_LB,
        residue_lb=Decimal(0),
        destination=TankRinse.Destination.DISPOSED,
        key=f"demo-year-{each.batch.number}-rinse",
        **_signed(worker, each.released_at + timedelta(minutes=_TANK_RINSED)),
    )


def _entries(each: Made, whole: TankContents, worker: User) -> Iterator[TankEntry]:
    begun = TankContents(state=TankState.CHARGING, basis=_RINSED.basis)
    drained = whole.heel_of_lb(0.0, MEASURED)
    released = each.released_at
    for kind, held, at in (
        (Kind.BEGUN, begun, each.at(each.weighed.weights[0].minutes)),
        (Kind.FINISHED, whole, each.done_at),
        (Kind.DRAINED, drained, released + timedelta(minutes=_CLOSED)),
        (Kind.RINSED, _RINSED, released + timedelta(minutes=_TANK_RINSED)),
    ):
        yield TankEntry(
            tank_id=each.batch.tank_id,
            batch=each.batch,
            kind=kind,
            contents=held.to_json(),
            key=f"demo-year-{kind}-{each.batch.number}",
            **_signed(worker, at),
        )
