"""Frozen records to what the papers print.

A quote's lines and a batch's plan were frozen when they were written. Nothing here looks at
base stocks, costs or rules of today: the same record gives the same paper next year. The
plant's own name block is today's, so that a paper issued anew carries the right address.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, Final

from django.conf import settings
from django.urls import reverse
from django.utils import timezone

from formulas.engine import guarantee
from formulas.engine.composition import NITROGEN_FORMS, SLOW_FORMS, with_total_n
from formulas.engine.label_rules import LABELS, Kind
from orders.models import Batch, PlantProfile, Quote, QuoteLine
from orders.papers import label_texts
from orders.papers import view_models as paper
from orders.price_bridge import from_json

_FOOTNOTE: Final = "*"
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
        plant=_plant(plant),
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
    package, price, frozen = line.package, from_json(line.price), line.price["frozen"]
    return paper.QuoteLine(
        blend_name=frozen["blend"],
        blend_reference=f"revision {frozen['revision']}",
        grade=frozen["grade"],
        analysis=tuple(
            paper.AnalysisFigure(key, pct)
            for key, pct in in_label_order(frozen["analysis"]).items()
            if key not in NITROGEN_FORMS
        ),
        slow_release_pct=frozen["slow_release_pct"],
        density_lb_per_gal=frozen["density_lb_per_gal"],
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
    plan = batch.plan
    density, ph = plan["density_window"], plan["ph_window"]
    return paper.BatchTicketView(
        plant=_plant(PlantProfile.load()),
        number=batch.number,
        page_url=settings.SITE_URL + reverse("batch_detail", args=[batch.number]),
        planned_on=timezone.localdate(batch.created_at),
        product_name=plan["product_name"],
        blend_reference=plan["blend_reference"],
        grade=plan["grade"],
        customer_name=plan["customer_name"],
        order_number=plan["order_number"],
        package_name=_package_name(plan),
        package_count=1 if plan["package"]["is_bulk"] else plan["quantity"],
        tank_name=plan["tank"]["name"],
        target_volume_gal=plan["volume_gal"],
        target_mass_lb=plan["mass_lb"],
        steps=tuple(
            paper.ChargeStep(
                stock_code=step["code"],
                stock_name=step["name"],
                weight_lb=step["weight_lb"],
                running_total_lb=step["running_total_lb"],
                scale_step_lb=step["scale_step_lb"],
                volume_gal=step["volume_gal"],
                instruction=step["instruction"],
            )
            for step in plan["steps"]
        ),
        safety=tuple(
            paper.StockSafety(
                stock["code"],
                stock["name"],
                tuple(stock["hazards"]),
                tuple(stock["ppe"]),
                stock["source"],
            )
            for stock in plan["safety"]
        ),
        findings=tuple(
            paper.PaperFinding(paper.Severity(f["severity"]), f["message"], f["source"])
            for f in plan["findings"]
            if f["code"] not in _ON_THE_PAGE_ONLY
        ),
        jar_test_steps=tuple(plan["jar_test_steps"]),
        previous_product=plan["cleanout"]["previous_product"],
        cleanout_instruction=plan["cleanout"]["instruction"],
        density_low_lb_per_gal=density["low"],
        density_high_lb_per_gal=density["high"],
        density_temperature_f=density["temperature_f"],
        ph_low=ph["low"],
        ph_high=ph["high"],
        retained_sample=plan["retained_sample"],
        notes=f"Load {batch.load_number} of {batch.load_count}. Density: {density['basis']}"
        f" pH: {ph['basis']}",
    )


# ---------------------------------------------------------------------------- label draft


def label_draft_view(batch: Batch) -> paper.LabelDraftView:
    """The label draft of one package of the load (in bulk: of the whole load), from its plan."""
    plan = batch.plan
    profile = PlantProfile.load()
    plant = _plant(profile)
    packages = 1 if plan["package"]["is_bulk"] else plan["quantity"]
    draft = guarantee.propose(
        _forms_only(plan["analysis"]),
        kind=Kind.SPECIALTY,
        sources=list(_sources(plan)),
        density_lb_per_gal=plan["density_lb_per_gal"],
        volume_gal=plan["volume_gal"] / packages,
    )
    texts = (
        *label_texts.directions(
            plan["analysis"], plan["density_lb_per_gal"], plan["n_rate_lb_per_1000sqft"]
        ),
        *label_texts.cautions(plan["analysis"]),
    )
    how = texts[: 1 + len(label_texts.DIRECTIONS)]
    slow = draft.slow_release_statement
    return paper.LabelDraftView(
        plant=plant,
        number=batch.number,
        drafted_on=timezone.localdate(batch.created_at),
        product_name=plan["product_name"],
        grade=draft.grade,
        guarantees=tuple(
            _guarantee(line, has_footnote=slow is not None) for line in draft.guarantees
        ),
        derived_from=draft.derived_from,
        guarantor=paper.Party(plant.name, plant.address_lines),
        net_mass_lb=draft.net.lb,
        net_mass_kg=draft.net.kg,
        net_volume_gal=draft.net.gal,
        net_volume_l=draft.net.L,
        density_lb_per_gal=plan["density_lb_per_gal"],
        density_temperature_f=plan["density_window"]["temperature_f"],
        slow_release_statement=f"{_FOOTNOTE}{slow}." if slow else "",
        other_ingredients=tuple(
            paper.OtherIngredient(item.label, item.pct) for item in draft.other_ingredients
        ),
        lot=batch.number,
        purchaser=paper.Party(plan["customer_name"], tuple(plan["ship_to_lines"])),
        directions=tuple(text.text for text in how),
        cautions=tuple(text.text for text in texts[len(how) :]),
        not_claimed=tuple(
            paper.NotClaimed(LABELS.get(item.key, "Slow release"), item.pct, item.rule, item.source)
            for item in draft.not_claimed
        ),
        review_notes=(
            *(f"{caution.message} Source: {caution.source}." for caution in draft.cautions),
            f"Net contents are of one package; this load fills {packages}: {_package_name(plan)}.",
            *(f"“{_opening(text.text)}”: {text.source}." for text in texts),
        ),
    )


def _guarantee(line: guarantee.Guarantee, *, has_footnote: bool) -> paper.GuaranteeLine:
    mark = _FOOTNOTE if has_footnote and line.key in SLOW_FORMS else ""
    return paper.GuaranteeLine(line.key, line.label, line.pct, line.parent or "", mark)


def _sources(plan: Mapping[str, Any]) -> Iterator[guarantee.LabelSource]:
    """What each stock of the frozen recipe is derived from, and what it brings into the blend."""
    for step in plan["steps"]:
        names = [name.strip() for name in step["derived_from"].split(",") if name.strip()]
        supplies = {key: pct * step["pct"] / 100 for key, pct in step["analysis"].items()}
        for name in names:
            yield guarantee.LabelSource(name, supplies, share_pct=step["pct"] / len(names))


def in_label_order(analysis: Mapping[str, float]) -> dict[str, float]:
    """A stored analysis as a label lists it; PostgreSQL keeps JSON keys in an order of its own."""
    return {key: analysis[key] for key in with_total_n(analysis) if key in analysis}


def _forms_only(analysis: Mapping[str, float]) -> dict[str, float]:
    """The analysis without the total, which follows from the nitrogen forms."""
    return {key: pct for key, pct in analysis.items() if key != "N"}


def _opening(text: str) -> str:
    """The first words of a sentence, to point at it."""
    words = text.split()
    return " ".join(words[:5]).rstrip(".,:;") + ("…" if len(words) > 5 else "")


def _package_name(plan: Mapping[str, Any]) -> str:
    package, quantity = plan["package"], plan["quantity"]
    if package["is_bulk"]:
        return f"{package['name']}, {quantity} gal"
    name: str = package["name"] if quantity == 1 else package["plural_name"]
    return name


def _plant(profile: PlantProfile) -> paper.Plant:
    return paper.Plant(
        name=profile.name,
        address_lines=tuple(p.strip() for p in profile.address.split(",") if p.strip()),
        phone=profile.phone,
        email=profile.email,
        registrations=(profile.licence_note,) if profile.licence_note else (),
    )
