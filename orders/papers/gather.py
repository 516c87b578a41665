"""Frozen records to what the papers print.

A quote's lines and a batch's plan were frozen when they were written. Nothing here looks at
base stocks, costs or rules of today: the same record gives the same paper next year. The
plant's own name block is today's, so that a paper issued anew carries the right address.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from django.conf import settings
from django.urls import reverse
from django.utils import timezone

from formulas.engine.composition import NITROGEN_FORMS, with_total_n
from orders.models import Batch, PlantProfile, Quote, QuoteLine
from orders.papers import view_models as paper
from orders.planning.parts import filling_words

#: That two stocks go well together needs no paper; the batch's page says it.
_ON_THE_PAGE_ONLY: Final = frozenset({"compatible"})
#: Findings that a customer reads on a quote; estimates and stock-keeping stay in the house.
_FOR_CUSTOMERS: Final = frozenset({"caution", "stop"})


# ---------------------------------------------------------------------------------- quote


def quote_view(quote: Quote, *, accept_url: str = "") -> paper.QuoteView:
    """The quote as it was priced; ``accept_url`` is the signed link, if it may be answered."""
    plant = PlantProfile.load()
    lines = list(quote.lines.select_related("revision__blend", "package"))
    return paper.QuoteView(
        plant=plant_block(plant),
        number=quote.number,
        quoted_on=timezone.localdate(quote.sent_at or quote.created_at),
        valid_until=quote.valid_until,
        customer=paper.Party(name=quote.company.name),
        ship_to=paper.Party(quote.ship_to.label, quote.ship_to.address_lines[1:]),
        lines=tuple(_quote_line(line) for line in lines),
        deposits=tuple(_deposit(line) for line in lines if line.deposit),
        total=quote.total,
        currency=settings.CURRENCY,
        prepared_by=quote.created_by.name,
        notes=quote.notes,
        terms=tuple(part for part in plant.quote_terms.splitlines() if part.strip()),
        accept_url=accept_url,
    )


def _quote_line(line: QuoteLine) -> paper.QuoteLine:
    package, price = line.package, line.price_breakdown
    blend = price.blend
    return paper.QuoteLine(
        blend_name=blend.name,
        blend_reference=f"revision {blend.revision_number}",
        grade=blend.grade,
        analysis=tuple(
            paper.AnalysisFigure(key, pct)
            for key, pct in in_label_order(blend.analysis).items()
            if key not in NITROGEN_FORMS
        ),
        slow_release_pct=blend.slow_release_pct,
        density_lb_per_gal=blend.density_lb_per_gal,
        package_name=package.name if line.quantity == 1 else package.plural_name,
        package_count=1 if package.is_bulk else line.quantity,
        volume_gal=line.volume_gal,
        mass_lb=line.mass_lb,
        price_per_gal=line.price_per_gal,
        price_per_package=line.price_per_package or line.line_total,  # bulk goes as one load
        line_total=line.line_total,
        n_rate_lb_per_1000sqft=line.n_rate_lb_per_1000sqft,
        price_per_1000sqft=price.price_per_1000sqft,
        price_per_lb_n=price.price_per_lb_n,
        cautions=tuple(
            warning["message"]
            for warning in line.revision.answer.get("warnings") or ()
            if warning["severity"] in _FOR_CUSTOMERS
        ),
    )


def _deposit(line: QuoteLine) -> paper.QuoteCharge:
    name = line.package.name if line.quantity == 1 else line.package.plural_name
    return paper.QuoteCharge(
        "Refundable deposit", line.deposit, f"line {line.position}: {line.quantity} {name}"
    )


# --------------------------------------------------------------------------- batch ticket


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
            )
            for step in plan.steps
        ),
        safety=tuple(
            paper.StockSafety(stock.code, stock.name, stock.hazards, stock.ppe, stock.source)
            for stock in plan.safety
        ),
        findings=tuple(
            paper.PaperFinding(paper.Severity(finding.severity), finding.message, finding.source)
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
    )


def in_label_order(analysis: Mapping[str, float]) -> dict[str, float]:
    """A stored analysis as a label lists it; PostgreSQL keeps JSON keys in an order of its own."""
    return {key: analysis[key] for key in with_total_n(analysis) if key in analysis}


def part_lines(batch: Batch) -> tuple[paper.LoadPartLine, ...]:
    """Who gets what of a load."""
    return tuple(
        paper.LoadPartLine(
            customer_name=part.consignment.customer_name,
            order_number=part.consignment.order_number,
            filling=filling_words(part),
            volume_gal=part.consignment.volume_gal,
        )
        for part in batch.parts.all()
    )


def plant_block(profile: PlantProfile) -> paper.Plant:
    """The plant's name block of today."""
    return paper.Plant(
        name=profile.name,
        address_lines=tuple(p.strip() for p in profile.address.split(",") if p.strip()),
        phone=profile.phone,
        email=profile.email,
        registrations=(profile.licence_note,) if profile.licence_note else (),
    )
