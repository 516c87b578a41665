"""Batches and orders to what the plant's own papers print."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime
from decimal import Decimal
from typing import Any, Final

from django.conf import settings
from django.db.models import QuerySet
from django.utils import timezone
from django.utils.translation import override

from blendshop.errors import IllegalMove
from blendshop.figures.readers import house
from formulas.engine.composition import SLOW_RELEASE, guarantee_name, in_label_order
from formulas.engine.plant.as_made import GuaranteeAsMade
from formulas.engine.plant.as_made_maxima import MaximumAsMade
from formulas.models import BaseStock
from orders.frozen.load_plan import PlannedLot
from orders.inventory.levels import suggested_lots
from orders.models import (
    Batch,
    BatchClosing,
    BatchEvent,
    BatchPart,
    Charge,
    Order,
    PackageSerial,
    PlantProfile,
    QualityReading,
    StockLot,
    TargetChange,
)
from orders.models.pounds import exact_pounds, written_pounds
from orders.papers import plant_view_models as paper
from orders.papers.gather import part_lines
from orders.papers.standing_texts import cautions
from orders.papers.view_models import AnalysisFigure
from orders.planning.lot_choice import planned_lots
from orders.planning.mixture import planned_hazards
from orders.production.as_made import MAXIMUM_WORDS, VERDICT_WORDS, as_made
from orders.production.density_read import batch_density, counting_reading
from orders.production.step_rows import lot_words, step_words
from orders.production.steps import Step, batch_steps, charged_lb
from orders.records.letterhead import Party, plant_block
from orders.tanks.mixing import under

TRANSPORT: Final = (
    "This list does not classify the goods for transport. Whether they are regulated, and every"
    " marking, placard and shipping paper, is for the shipper to decide from section 14 of each"
    " product's SDS and the rules of the carriage."
)
_LOTS_LISTED: Final = 4


@override(settings.LANGUAGE_CODE)
def pick_list_view(batch: Batch) -> paper.PickListView:
    """Stocks still to be charged with the lots to take them from today."""
    steps = [step for step in batch_steps(batch) if step.left_lb > 0]
    stocks = _stock_ids({step.code for step in steps})
    lots = suggested_lots(list(stocks.values()), timezone.localdate())
    planned = planned_lots(batch)
    return paper.PickListView(
        plant=plant_block(PlantProfile.load()),
        number=batch.number,
        product_name=batch.load_plan.product_name,
        tank_name=batch.load_plan.tank.name,
        picked_for=timezone.localdate(batch.created_at),
        lines=tuple(
            paper.PickLine(
                stock_code=step.code,
                stock_name=step.name,
                weight_lb=step.left_lb,
                lots=_lots_to_bring(lots[stocks[step.code]], planned.get(step.number, ()), step),
                note=step.instruction,
            )
            for step in steps
        ),
    )


def _lots_to_bring(
    lots: list[StockLot], planned: Sequence[PlannedLot], step: Step
) -> tuple[str, ...]:
    """The lots the plan was made with; where it names none, those on hand in order of use.

    A planned lot that may not be used any more is still named, with the reason to plan again.
    """
    if planned:
        usable = {lot.code: lot for lot in lots}
        return tuple(
            _planned_lot_words(lot, usable.get(lot.code), several=len(planned) > 1)
            for lot in planned
        )
    if not lots and step.is_water:
        return ("from the main",)
    return tuple(lot_words(lot) for lot in lots[:_LOTS_LISTED])


def _planned_lot_words(lot: PlannedLot, usable: StockLot | None, *, several: bool) -> str:
    if usable is None:
        return f"{lot.code}: planned, but held, used up or past its last day. Plan this load again."
    mass = f"{house().at_most(lot.weight_lb, 3)} lb of " if several else ""
    return f"{mass}{lot_words(usable)}"


@override(settings.LANGUAGE_CODE)
def batch_record_view(batch: Batch) -> paper.BatchRecordView:
    """Everything that was written down about a batch."""
    plan, steps = batch.load_plan, batch_steps(batch)
    made = as_made(batch, steps)
    closing = BatchClosing.objects.filter(batch=batch).first()
    return paper.BatchRecordView(
        plant=plant_block(PlantProfile.load()),
        number=batch.number,
        state=batch.get_status_display(),
        product_name=plan.product_name,
        blend_reference=plan.blend_reference,
        grade=batch.grade,
        parts=part_lines(batch),
        tank_name=plan.tank.name,
        planned_on=timezone.localdate(batch.created_at),
        planned_lb=exact_pounds(round(plan.mass_lb, 3)),
        charged_lb=charged_lb(steps),
        steps=tuple(
            paper.PlanActual(
                number=step.number,
                stock_code=step.code,
                stock_name=step.name,
                planned_lb=step.target_lb,
                actual_lb=step.charged_lb,
                words=step_words(step),
                why=" ".join(filter(None, [step.why, *map(_target_change, step.changes)])),
            )
            for step in steps
        ),
        charges=tuple(_charge(charge) for charge in _all_charges(batch)),
        analysis=() if made is None else _analysis(made.analysis),
        guarantees=() if made is None else tuple(_guarantee(each) for each in made.guarantees),
        readings=tuple(
            _reading(reading)
            for reading in batch.readings.select_related("set_aside").order_by("pk")
        ),
        events=tuple(_event(event) for event in batch.events.all()),
        packages=_package_lines(_serials(batch)),
        balance="" if closing is None else _balance(closing),
        rinses=tuple(
            f"{_moment(rinse.at)}, {rinse.who}: {written_pounds(rinse.water_lb)} lb of water after"
            f" {written_pounds(rinse.residue_lb)} lb left; {rinse.get_destination_display()}"
            + (f", lot {rinse.lot.code}." if rinse.lot else ".")
            for rinse in batch.rinses.select_related("lot").order_by("pk")
        ),
        heel=_heel(batch),
        maxima=() if made is None else tuple(_maximum(each) for each in made.maxima),
    )


def _target_change(change: TargetChange) -> str:
    was = written_pounds(change.was_lb)
    return f"Target before: {was} lb. {change.why} {change.who}, {_moment(change.at)}."


@override(settings.LANGUAGE_CODE)
def certificate_view(part: BatchPart) -> paper.CertificateView:
    """What the customer gets; IllegalMove unless the batch is released and was analysed."""
    batch = part.batch
    if batch.status != Batch.Status.RELEASED:
        raise IllegalMove(f"{batch.number} is not released; no certificate is issued for it.")
    made = as_made(batch, batch_steps(batch))
    if made is None:
        raise IllegalMove(
            f"{batch.number} was weighed from the printed ticket: without charges written down"
            " here its analysis cannot be certified."
        )
    to = part.consignment
    reading = counting_reading(batch)
    density = batch_density(batch, made.density_lb_per_gal)
    release, made_on = (_last_move(batch, to) for to in (Batch.Status.RELEASED, Batch.Status.MADE))
    return paper.CertificateView(
        plant=plant_block(PlantProfile.load()),
        number=batch.number,
        product_name=part.product_name,
        grade=batch.grade,
        customer=Party(to.customer_name, to.ship_to_lines),
        order_number=to.order_number,
        made_on=timezone.localdate(made_on.at),
        released_on=timezone.localdate(release.at),
        released_by=release.who,
        figures=tuple(_certified(check, reading) for check in made.guarantees),
        density_lb_per_gal=density.lb_per_gal,
        density_temperature_f=density.temperature_f,
        density_is_calculated=not density.is_read,
        ph=None if reading is None else reading.ph,
        appearance="" if reading is None else reading.get_appearance_display(),
        remarks=(
            *([_lowered_words(batch)] if batch.lowered_promise else []),
            *([f"Released with a reason: {release.why}"] if release.why else []),
        ),
    )


@override(settings.LANGUAGE_CODE)
def packing_list_view(order: Order) -> paper.PackingListView:
    """Every filled package of the order's released batches; IllegalMove while there is none."""
    parts = (
        BatchPart.objects.filter(order_line__order=order, packages__isnull=False)
        .select_related("order_line__package", "batch")
        .distinct()
        .order_by("pk")
    )
    lines = tuple(_packed(part) for part in parts)
    if not lines:
        raise IllegalMove(f"No package of {order.number} is filled yet; there is nothing to list.")
    plans = [part.batch.load_plan for part in parts]
    told = [text.text for plan in plans for text in cautions(plan.analysis, planned_hazards(plan))]
    return paper.PackingListView(
        plant=plant_block(PlantProfile.load()),
        number=order.number,
        customer=Party(order.company.name),
        ship_to=Party(order.ship_to.label, order.ship_to.address_lines[1:]),
        customer_reference=order.customer_reference,
        lines=lines,
        cautions=tuple(dict.fromkeys(told)),
        transport=TRANSPORT,
    )


@override(settings.LANGUAGE_CODE)
def package_labels_view(batch: Batch) -> paper.PackageLabelsView:
    """A label for every filled package; IllegalMove while there is none."""
    packages = tuple(
        paper.LabelledPackage(
            package.serial,
            package.net_lb,
            package.part.consignment.package.name,
            package.part.consignment.customer_name,
            package.part.product_name,
        )
        for package in _serials(batch).select_related("part__batch")
    )
    if not packages:
        raise IllegalMove(f"No package of {batch.number} is filled yet; there is nothing to label.")
    plan = batch.load_plan
    return paper.PackageLabelsView(
        plant=plant_block(PlantProfile.load()),
        number=batch.number,
        product_name=plan.product_name,
        grade=batch.grade,
        packages=packages,
    )


def _lowered_words(batch: Batch) -> str:
    lowered = batch.lowered_promise
    if lowered is None:
        return ""
    return (
        f"Planned as {batch.load_plan.grade} and lowered to {lowered.grade},"
        f" as agreed with {lowered.agreed_with}: {lowered.why}"
    )


def _last_move(batch: Batch, to: str) -> BatchEvent:
    """The event that brought the batch into a state; a note within the state is none."""
    moves = batch.events.filter(to_status=to).exclude(from_status=to)
    newest: BatchEvent = moves.order_by("-pk")[0]
    return newest


def _event(event: BatchEvent) -> paper.RecordEvent:
    moved = event.from_status != event.to_status
    state = f"{Batch.Status(event.to_status).label.capitalize()}." if moved else ""
    return paper.RecordEvent(_moment(event.at), event.who, f"{state} {event.why}".strip())


def _packed(part: BatchPart) -> paper.PackedLine:
    batch, package = part.batch, part.order_line.package
    return paper.PackedLine(
        product_name=part.product_name,
        grade=batch.grade,
        batch_number=batch.number,
        package_name=package.name,
        tare_lb=package.tare_lb,
        packages=_package_lines(part.packages.order_by("pk")),
    )


def _serials(batch: Batch) -> QuerySet[PackageSerial]:
    return PackageSerial.objects.filter(part__batch=batch).order_by("pk")


def _package_lines(packages: QuerySet[PackageSerial]) -> tuple[paper.PackageLine, ...]:
    return tuple(paper.PackageLine(package.serial, package.net_lb) for package in packages)


def _all_charges(batch: Batch) -> list[Charge]:
    return list(batch.charges.select_related("lot", "stock", "reversal").order_by("pk"))


def _charge(charge: Charge) -> paper.RecordCharge:
    reversal = getattr(charge, "reversal", None)
    return paper.RecordCharge(
        step=charge.step,
        stock_code=charge.stock.code,
        lot=charge.lot.code if charge.lot else "",
        supplier_lot=charge.lot.supplier_lot if charge.lot else "",
        mass_lb=charge.mass_lb,
        who=charge.who,
        at=_moment(charge.weighed_at or charge.at),
        reversed_because=reversal.why if reversal else "",
    )


def _guarantee(check: GuaranteeAsMade) -> paper.GuaranteeMade:
    return paper.GuaranteeMade(
        name=guarantee_name(check.key),
        guaranteed_pct=check.guaranteed_pct,
        made_pct=round(check.made_pct, 4),
        words=str(VERDICT_WORDS[check.verdict]),
    )


def _maximum(check: MaximumAsMade) -> paper.MaximumMade:
    return paper.MaximumMade(
        name=guarantee_name(check.key),
        most_pct=check.most_pct,
        made_pct=round(check.made_pct, 4),
        words=str(MAXIMUM_WORDS[check.verdict]),
    )


def _certified(check: GuaranteeAsMade, reading: QualityReading | None) -> paper.CertifiedFigure:
    """The laboratory's figure where there is one, else the calculated one, marked as such."""
    lab = {} if reading is None else reading.lab_analysis
    found, method, words = check.made_pct, "calculated", str(VERDICT_WORDS[check.verdict])
    if reading is not None and check.key in lab:
        found, method = lab[check.key], reading.lab_source
        words = "meets" if found >= check.guaranteed_pct else "below the guarantee"
    name = guarantee_name(check.key)
    return paper.CertifiedFigure(
        name=f"{name}, percent of N" if check.key == SLOW_RELEASE else name,
        guaranteed_pct=check.guaranteed_pct,
        found_pct=round(found, 4),
        method=method,
        words=words,
    )


def _analysis(analysis: Any) -> tuple[AnalysisFigure, ...]:
    return tuple(
        AnalysisFigure(key, round(pct, 4)) for key, pct in in_label_order(analysis).items() if pct
    )


def _reading(reading: QualityReading) -> paper.RecordReading:
    lab = ", ".join(f"{key} {pct:g} %" for key, pct in reading.lab_analysis.items())
    return paper.RecordReading(
        at=_moment(reading.at),
        who=reading.who,
        density_lb_per_gal=reading.density_lb_per_gal,
        temperature_f=reading.temperature_f,
        density_at_reference=reading.density_at_reference,
        reference_f=reading.reference_f,
        ph=reading.ph,
        appearance=reading.get_appearance_display(),
        findings=tuple(reading.findings),
        laboratory=f"{reading.lab_source}: {lab}." if lab else "",
        set_aside=_set_aside_words(reading),
    )


def _heel(batch: Batch) -> str:
    """What the batch was begun on and whose it was; empty for an empty tank."""
    heel = under(batch)
    if heel is None or heel.mass_lb <= 0:
        return ""
    of = ", ".join(f"{each.number} {house().mass(each.lb)}" for each in heel.batches)
    told = f"{house().mass(heel.mass_lb)} of {heel.product}, {heel.basis}"
    return f"{told}; of {of}" if len(heel.batches) > 1 else told


def _set_aside_words(reading: QualityReading) -> str:
    set_aside = getattr(reading, "set_aside", None)
    return f"Set aside as wrong by {set_aside.who}: {set_aside.why}" if set_aside else ""


def _balance(closing: BatchClosing) -> str:
    pct = closing.loss_lb * 100 / (closing.charged_lb or Decimal(1))
    onto = f" onto a heel of {written_pounds(closing.heel_in_lb)} lb" if closing.heel_in_lb else ""
    left = (
        f" left in the tank as its heel {written_pounds(closing.heel_left_lb)} lb,"
        if closing.heel_left_lb
        else ""
    )
    told = (
        f"Charged {written_pounds(closing.charged_lb)} lb{onto}, filled"
        f" {written_pounds(closing.filled_lb)} lb,{left} not filled"
        f" {written_pounds(closing.loss_lb)} lb ({pct:.2f} %)."
    )
    return f"{told} {closing.why}".strip()


def _stock_ids(codes: set[str]) -> dict[str, int]:
    return dict(BaseStock.objects.filter(code__in=codes).values_list("code", "pk"))


def _moment(at: datetime) -> str:
    local = timezone.localtime(at)
    return f"{_short(local.date())}, {local:%H:%M}"


def _short(day: date) -> str:
    return f"{day:%b} {day.day}, {day.year}"
