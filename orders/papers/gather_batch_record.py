"""Everything that was written down about a batch, to its record."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime
from decimal import Decimal

from django.conf import settings
from django.utils import timezone
from django.utils.translation import override

from blendshop.figures.readers import house
from formulas.engine.composition import guarantee_name, in_label_order
from formulas.engine.plant.as_made import GuaranteeAsMade
from formulas.engine.plant.as_made_maxima import MaximumAsMade
from orders.frozen.tank_contents import TankContents
from orders.models import (
    Batch,
    BatchClosing,
    BatchEvent,
    Charge,
    PlantProfile,
    QualityReading,
    TargetChange,
)
from orders.models.pounds import exact_pounds, written_pounds
from orders.papers import plant_view_models as paper
from orders.papers.gather import part_lines
from orders.papers.view_models import AnalysisFigure
from orders.production.as_made import MAXIMUM_WORDS, VERDICT_WORDS
from orders.production.made_record import MadeRecord, made_record
from orders.production.sold_as import batch_grade, sold_as
from orders.production.step_rows import step_words
from orders.production.steps import charged_lb
from orders.records.letterhead import plant_block


@override(settings.LANGUAGE_CODE)
def batch_record_view(batch: Batch) -> paper.BatchRecordView:
    """Everything that was written down about a batch."""
    record = made_record(batch)
    plan, steps, made = record.plan, record.steps, record.made
    closing = BatchClosing.objects.filter(batch=batch).first()
    return paper.BatchRecordView(
        plant=plant_block(PlantProfile.load()),
        number=batch.number,
        state=batch.get_status_display(),
        product_name=plan.product_name,
        blend_reference=plan.blend_reference,
        grade=batch_grade(record),
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
        packages=tuple(paper.PackageLine(each.serial, each.net_lb) for each in record.packages),
        balance="" if closing is None else _balance(closing),
        rinses=tuple(
            f"{_moment(rinse.at)}, {rinse.who}: {written_pounds(rinse.water_lb)} lb of water after"
            f" {written_pounds(rinse.residue_lb)} lb left; {rinse.get_destination_display()}"
            + (f", lot {rinse.lot.code}." if rinse.lot else ".")
            for rinse in batch.rinses.select_related("lot").order_by("pk")
        ),
        heel=_heel(record.heel),
        maxima=() if made is None else tuple(_maximum(each) for each in made.maxima),
        lowered=_lowered(record),
        density=_density(record),
    )


def _target_change(change: TargetChange) -> str:
    was = written_pounds(change.was_lb)
    return f"Target before: {was} lb. {change.why} {change.who}, {_moment(change.at)}."


def _event(event: BatchEvent) -> paper.RecordEvent:
    moved = event.from_status != event.to_status
    state = f"{Batch.Status(event.to_status).label.capitalize()}." if moved else ""
    return paper.RecordEvent(_moment(event.at), event.who, f"{state} {event.why}".strip())


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


def _analysis(analysis: Mapping[str, float]) -> tuple[AnalysisFigure, ...]:
    return tuple(
        AnalysisFigure(guarantee_name(key), round(pct, 4))
        for key, pct in in_label_order(analysis).items()
        if pct
    )


def _reading(reading: QualityReading) -> paper.RecordReading:
    lab = ", ".join(
        f"{guarantee_name(key)} {house().significant(pct)} %"
        for key, pct in in_label_order(reading.lab_analysis).items()
    )
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


def _lowered(record: MadeRecord) -> str:
    """What it was planned as, where it is sold as less; empty where it is not."""
    batch, lowered = record.batch, record.batch.lowered_promise
    parts = [sold_as(record, part) for part in batch.parts.all()]
    if any(part.needs_agreement for part in parts):
        return (
            f"Planned as {' / '.join(dict.fromkeys(part.promised_grade for part in parts))}; what"
            " was charged holds less, and no customer's agreement is written down."
        )
    if lowered is None:
        return ""
    return (
        f"Planned as {batch.load_plan.grade} and lowered to {lowered.grade},"
        f" as agreed with {lowered.agreed_with}: {lowered.why}"
    )


def _density(record: MadeRecord) -> str:
    """What the papers of the batch state; empty before it is made."""
    if record.complete is None:
        return ""
    density = record.density
    told = f"{house().density(density.lb_per_gal)} at {house().temperature(density.temperature_f)}"
    return told if density.is_read else f"{told}, calculated, not read"


def _heel(heel: TankContents | None) -> str:
    """What the batch was begun on and whose it was; empty for an empty tank."""
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
        f" {written_pounds(closing.loss_lb)} lb ({house().percent(pct, 2)})."
    )
    return f"{told} {closing.why}".strip()


def _moment(at: datetime) -> str:
    local = timezone.localtime(at)
    return f"{_short(local.date())}, {local:%H:%M}"


def _short(day: date) -> str:
    return f"{day:%b} {day.day}, {day.year}"
