"""Frozen records to what the papers print.

A quote's lines and a batch's plan were frozen when they were written. Nothing here looks at
base stocks, costs or rules of today: the same record gives the same paper next year. The
plant's own name block is today's, so that a paper issued anew carries the right address.
"""

from __future__ import annotations

from typing import Final

from django.conf import settings
from django.db.models import Min
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import override

from formulas.engine.result import Severity
from orders.models import Batch, BatchPart, PlantProfile
from orders.papers import view_models as paper
from orders.planning.parts import filling_words
from orders.planning.plan_words import lot_differences, scale_words, tolerance_words
from orders.records.letterhead import plant_block

#: That two stocks go well together needs no paper; the batch's page says it.
_ON_THE_PAGE_ONLY: Final = frozenset({"compatible"})


# ---------------------------------------------------------------------------------- quote


# --------------------------------------------------------------------------- batch ticket


@override(settings.LANGUAGE_CODE)
def batch_ticket_view(batch: Batch) -> paper.BatchTicketView:
    """The ticket of one load, from its plan."""
    plan = batch.load_plan
    density, ph = plan.density_window, plan.ph_window
    return paper.BatchTicketView(
        plant=plant_block(PlantProfile.load()),
        number=batch.number,
        page_url=settings.SITE_URL + reverse("batch_detail", args=[batch.number]),
        planned_on=timezone.localdate(batch.created_at),
        product_name=plan.product_name,
        blend_reference=plan.blend_reference,
        grade=batch.grade,
        parts=part_lines(batch),
        tank_name=plan.tank.name,
        target_volume_gal=plan.volume_gal,
        target_mass_lb=plan.mass_lb,
        steps=tuple(
            paper.ChargeStep(
                stock_code=step.code,
                stock_name=step.name,
                weight_lb=step.weight_lb,
                running_total_lb=step.running_total_lb,
                scale_step_lb=step.scale_step_lb,
                volume_gal=step.volume_gal,
                instruction=step.instruction,
                tolerance_lb=step.tolerance_lb,
                scale=scale_words(plan.tank, step),
                lots=tuple(
                    paper.TicketLot(lot.code, lot.weight_lb, lot_differences(step, lot))
                    for lot in step.lots
                ),
            )
            for step in plan.steps
        ),
        safety=tuple(
            paper.StockSafety(stock.code, stock.name, stock.hazards, stock.ppe, stock.source)
            for stock in plan.safety
        ),
        findings=tuple(
            paper.PaperFinding(Severity(finding.severity), finding.message, finding.source)
            for finding in plan.findings
            if finding.code not in _ON_THE_PAGE_ONLY
        ),
        jar_test_steps=plan.jar_test_steps,
        previous_product=plan.cleanout.previous_product,
        cleanout_instruction=plan.cleanout.instruction,
        density_low_lb_per_gal=density.low_lb_per_gal,
        density_high_lb_per_gal=density.high_lb_per_gal,
        density_temperature_f=density.temperature_f,
        ph_low=ph.low_ph,
        ph_high=ph.high_ph,
        retained_sample=plan.retained_sample,
        notes=f"Load {batch.load_number} of {batch.load_count}. Density: {density.basis}"
        f" pH: {ph.basis}",
        on_target=tolerance_words(plan),
        heel_mass_lb=0.0 if plan.heel is None else plan.heel.mass_lb,
        due_on=batch.parts.aggregate(due_on=Min("order_line__order__due_on"))["due_on"],
    )


def part_lines(batch: Batch) -> tuple[paper.LoadPartLine, ...]:
    """Who gets what of a load."""
    return tuple(
        paper.LoadPartLine(
            customer_name=part.consignment.customer_name,
            order_number=part.consignment.order_number,
            filling=_filling(part),
            volume_gal=part.consignment.volume_gal,
        )
        for part in batch.parts.all()
    )


def _filling(part: BatchPart) -> str:
    """What it is filled into, and as what where the load goes by another product's name."""
    if part.product_name == part.batch.load_plan.product_name:
        return filling_words(part)
    return f"{filling_words(part)}, as {part.product_name}"
