"""The label of a batch as its papers print it, in all layouts."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from typing import Final

from django.conf import settings
from django.urls import reverse
from django.utils import timezone

from blendshop.figures.readers import house
from formulas.engine.composition import SLOW_FORMS
from formulas.engine.label import guarantee
from formulas.engine.label.metals import MetalVerdict
from formulas.engine.label.model import NetContents
from formulas.engine.label.printed_figures import as_printed, text
from formulas.engine.label.rules import LABELS, PRIMARY
from formulas.engine.law.mixture_hazards import MixtureHazard, Portion
from formulas.engine.mark import Mark
from formulas.engine.units import KG_PER_LB, L_PER_GAL
from orders.labels import texts as label_texts
from orders.labels import view_models as paper
from orders.labels.batch_label import BatchLabel, MissedLine, batch_label
from orders.models import Batch, BatchPart, LabelChange
from orders.papers import standing_texts
from orders.planning.mixture import hazards_of
from orders.planning.parts import filling_words
from orders.records.letterhead import Party, plant_block

_FOOTNOTE: Final = "*"
_INHIBITORS: Final = frozenset({"NBPT", "DCD"})
VERDICTS: Final[dict[MetalVerdict, str]] = {
    MetalVerdict.WITHIN: "within the limit",
    MetalVerdict.ABOVE: "ABOVE the limit",
    MetalVerdict.NOT_ASSESSED: "NOT ASSESSED",
    MetalVerdict.NO_LIMIT: "no limit here",
    MetalVerdict.EXEMPT: "a nutrient here",
}
_SLOW_CLAIM_NAME: Final = "Slow release"


def label_draft_view(part: BatchPart, label: BatchLabel | None = None) -> paper.LabelDraftView:
    """The label draft of one package of a part of the load; in bulk of the whole part.

    ``label`` is the part's, where the caller has it already.
    """
    batch, to = part.batch, part.consignment
    label = label or batch_label(part)
    contents = label.printed
    draft, net = label.draft, label.draft.net.printed
    plant = plant_block(label.plant)
    how, cautions = _directions(label, to.n_rate_lb_per_1000sqft), _cautions(part, label)
    slow, stabilized = draft.slow_release_statement, draft.stabilized_nitrogen_statement
    return paper.LabelDraftView(
        plant=plant,
        number=batch.number,
        drafted_on=contents.as_of,
        product_name=part.product_name,
        grade=draft.grade if _has_primary(draft) else "",
        guarantees=tuple(
            _guarantee(line, has_footnote=slow is not None) for line in draft.guarantees
        ),
        derived_from=draft.derived_from,
        guarantor=Party(plant.name, plant.address_lines),
        net_mass_lb=float(net["lb"]),
        net_mass_kg=float(net["kg"]),
        net_volume_gal=float(net["gal"]),
        net_volume_l=float(net["L"]),
        density_lb_per_gal=contents.density_lb_per_gal,
        density_temperature_f=contents.temperature_f,
        slow_release_statement=f"{_FOOTNOTE}{slow}." if slow else "",
        other_ingredients=tuple(
            paper.OtherIngredient(item.label, item.pct, _origin(item))
            for item in draft.other_ingredients
        ),
        lot=batch.number,
        purchaser=Party(to.customer_name, to.ship_to_lines),
        delivered_on=label.delivered,
        page_url=settings.SITE_URL + reverse("part_page", args=[batch.number, part.position]),
        stabilized_nitrogen_statement=stabilized.text if stabilized else "",
        metals_statement=draft.metals_statement.text if draft.metals_statement else "",
        purpose_statement=_purpose(draft),
        directions=tuple(sentence.text for sentence in how),
        cautions=tuple(sentence.text for sentence in cautions),
        package_cautions=tuple(sentence.text for sentence in label_texts.on_package(cautions)),
        not_claimed=tuple(
            paper.NotClaimed(
                LABELS.get(item.key, _SLOW_CLAIM_NAME), item.pct, item.rule, item.source
            )
            for item in draft.not_claimed
        ),
        review_notes=tuple(_review_notes(part, label, (*how, *cautions))),
        changes=tuple(_changes(label)),
        duties=tuple(
            paper.DutyLine(
                item.topic,
                item.text,
                item.citation if item.is_verified else f"{item.citation}; unverified",
            )
            for item in label.to_check
        ),
        metals=tuple(metal_lines(label)),
        packages=tuple(_packages(part, label)),
    )


def _packages(part: BatchPart, label: BatchLabel) -> Iterator[paper.PackageNet]:
    """Each weight there is among the packages of the order, the estimate for those not weighed."""
    record = label.sold.record
    filled = record.packages_of(part)
    if not filled:
        return
    by_weight: dict[Decimal, list[str]] = {}
    for package in filled:
        by_weight.setdefault(package.net_lb, []).append(package.serial)
    for net_lb, serials in by_weight.items():
        gal = float(net_lb) / record.density.lb_per_gal
        yield _net(
            tuple(serials),
            NetContents(float(net_lb), float(net_lb) * KG_PER_LB, gal, gal * L_PER_GAL),
        )
    if len(filled) < part.package_count:
        yield _net((), label.draft.net)


def _net(serials: tuple[str, ...], net: NetContents) -> paper.PackageNet:
    printed = net.printed
    return paper.PackageNet(
        serials,
        float(printed["lb"]),
        float(printed["kg"]),
        float(printed["gal"]),
        float(printed["L"]),
    )


def metal_lines(label: BatchLabel) -> Iterator[paper.MetalLine]:
    """Every metal with its verdict in words."""
    for rule, check in label.metals:
        verified = "" if check.verified else f"; {Mark.FROM_MEMORY}"
        note = f"{check.note.rstrip('.')}{verified}." if check.note else ""
        yield paper.MetalLine(
            label=f"{check.name} ({check.metal})",
            found_ppm=check.found,
            limit_ppm=check.limit,
            verdict=VERDICTS[check.verdict],
            rule=rule.name,
            note=note,
        )


def figures_note(batch: Batch, label: BatchLabel) -> str:
    """Whether the label rests on the plan or on what was weighed, in a sentence or two."""
    if not label.contents.is_charged:
        if batch.status not in (Batch.Status.PLANNED, Batch.Status.CHARGING):
            return (
                "Weighed from the printed ticket: no charge is known here, figures follow the plan."
            )
        if batch.load_plan.has_tolerances:
            return "Figures follow the plan: every load weighed on target holds each printed line."
        return "Figures follow the plan; the weights decide once the load is charged."
    if not label.missed:
        return "What was charged, by its lots' certificates, holds every figure of the plan."
    return (
        "What was charged holds less than planned: the guarantees follow the charged weights."
        f" Missed: {'; '.join(map(missed_words, label.missed))}."
    )


def missed_words(line: MissedLine) -> str:
    """``Total Nitrogen (N) 24%, charged 23.8713%``."""
    held = "not known" if line.held_pct is None else house().percent(line.held_pct, 4)
    return f"{line.label} {line.printed}, charged {held}"


def grade_note(label: BatchLabel) -> str:
    """Which grade rule was applied, and where it stands."""
    rule = label.rule
    if not label.has_state_rule:
        opening = f"No grade rule of {label.state} was read; {rule.name.lower()} was applied"
    else:
        opening = f"Grade by the rule of {rule.name}"
    note = f" {rule.note}" if rule.note else ""
    return f"{opening}, as a specialty (lawn) fertilizer. Source: {rule.source}.{note}"


def change_words(change: LabelChange) -> str:
    """A change in words: ``0.12% lowered to 0.1%``."""
    if change.action == LabelChange.Action.RESTORE:
        return f"put back to {_percent(change.key, change.to_pct)}"
    if change.to_pct is None:
        return f"{_percent(change.key, change.from_pct)} left out"
    before, after = (_percent(change.key, pct) for pct in (change.from_pct, change.to_pct))
    return f"{before} lowered to {after}"


def _percent(key: str, pct: Decimal | None) -> str:
    return "no line" if pct is None else f"{text(as_printed(key, pct))}%"


def _has_primary(draft: guarantee.LabelDraft) -> bool:
    """Without N, phosphate and potash there is no grade to print (Mont. Admin. R. 4.12.604)."""
    return any(line.key in PRIMARY for line in draft.guarantees)


def _guarantee(line: guarantee.Guarantee, *, has_footnote: bool) -> paper.GuaranteeLine:
    mark = _FOOTNOTE if has_footnote and line.key in SLOW_FORMS else ""
    return paper.GuaranteeLine(line.key, line.label, line.pct, line.parent or "", mark)


def _origin(item: guarantee.OtherIngredient) -> str:
    """Sources that say more than the ingredient's own name does."""
    named = item.label.casefold()
    return ", ".join(source for source in item.sources if source.casefold() not in named)


def _purpose(draft: guarantee.LabelDraft) -> str:
    """Known for inhibitors only; the purpose of anything else is a claim its registrant makes."""
    keys = {item.key for item in draft.other_ingredients}
    if draft.stabilized_nitrogen_statement is None or not keys <= _INHIBITORS:
        return ""
    return "see stabilized nitrogen above"


def _directions(
    label: BatchLabel, n_rate_lb_per_1000sqft: float | None
) -> tuple[standing_texts.StandingText, ...]:
    contents = label.printed
    return label_texts.directions(
        contents.analysis, contents.density_lb_per_gal, n_rate_lb_per_1000sqft
    )


def _cautions(part: BatchPart, label: BatchLabel) -> tuple[standing_texts.StandingText, ...]:
    """Prescribed sentences and warnings first, then the standing cautions."""
    prescribed = tuple(
        standing_texts.StandingText(item.text, f"prescribed: {item.citation}")
        for item in label.to_check
        if item.is_sentence
    )
    guaranteed = {line.key: line.pct for line in label.draft.guarantees}
    standing = standing_texts.cautions(label.printed.analysis, _hazards(part, label))
    return (
        *prescribed,
        *label_texts.warnings(guaranteed),
        *(s for s in standing if not any(s.text in said.text for said in prescribed)),
    )


def _hazards(part: BatchPart, label: BatchLabel) -> tuple[MixtureHazard, ...]:
    """The hazard classes of what the load holds; of a heel not yet charged onto, its contents'."""
    contents, heel = label.contents, part.batch.load_plan.heel
    portions = [
        Portion(each.pct, each.analysis, frozenset(each.figures.traits)) for each in contents.stocks
    ]
    if heel is not None and contents.heel_pct > 0:
        portions.append(Portion(contents.heel_pct, heel.analysis))
    return hazards_of(portions)


def _changes(label: BatchLabel) -> Iterator[paper.LabelChangeLine]:
    for change in label.changes:
        yield paper.LabelChangeLine(
            label=change.label,
            change=change_words(change),
            who=change.who,
            on=timezone.localdate(change.at),
            why=change.why,
        )


def _review_notes(
    part: BatchPart, label: BatchLabel, texts: tuple[standing_texts.StandingText, ...]
) -> Iterator[str]:
    yield figures_note(part.batch, label)
    for change in label.void:
        yield f"A change of {LABELS.get(change.key, change.key)} by hand lowers nothing any more."
    yield from label.packs.notes
    if _has_primary(label.draft):
        yield grade_note(label)
    for finding in (*label.draft.cautions, *label.draft.notes):
        yield f"{finding.message} Source: {finding.source}."
    yield from _open_points(part, label)
    for statement in (label.draft.stabilized_nitrogen_statement, label.draft.metals_statement):
        if statement is not None:
            yield f"“{_opening(statement.text)}”: {statement.source}."
    asked = {change.key for change in label.draft.asked}
    for entry in label.draft.changes:
        if entry.key not in asked:
            to = "left out" if entry.to_pct is None else f"now {_percent(entry.key, entry.to_pct)}"
            yield f"{entry.label} ({_percent(entry.key, entry.from_pct)}) {to}: {entry.reason}."
    yield (
        f"Net contents are of one package; for this customer the load fills {filling_words(part)}."
        f" {_weighed_words(part, label)}"
    )
    yield label_texts.SPLIT
    yield "Spanish words on this label are our own translation; have them read."
    for content in label.contents.stocks:
        yield from content.metal_sources
    for sentence in texts:
        yield f"“{_opening(sentence.text)}”: {sentence.source}."


def _weighed_words(part: BatchPart, label: BatchLabel) -> str:
    weighed = len(label.sold.record.packages_of(part))
    if weighed >= part.package_count:
        return "Each package has the weight it was weighed at."
    of = f"{weighed} of {part.package_count} weighed" if weighed else "none is weighed yet"
    return f"Net weight is an estimate, volume by density, where a package is not weighed: {of}."


def _open_points(part: BatchPart, label: BatchLabel) -> Iterator[str]:
    """What only a person can settle."""
    heel = part.batch.load_plan.heel
    if heel is not None:
        yield (
            f"{house().percent(label.contents.heel_pct, 1)} of the load stood in the tank before"
            f" ({heel.words}): sources and metals of that are not known here."
        )
    if label.printed.temperature_f != label_texts.STATED_AT_F:
        yield label_texts.OTHER_TEMPERATURE
    if any(_is_abbreviated(term) for term in label.draft.derived_from):
        yield label_texts.ABBREVIATION
    if label.draft.other_ingredients:
        yield label_texts.PURPOSE
    if any(item.key == "fulvic_acid" for item in label.draft.other_ingredients):
        yield label_texts.FULVIC
    if label.state == "WA":
        yield label_texts.YEARLY_METALS
    for each in _hazards(part, label):
        if not each.is_certain:
            yield f"{each.finding.message} Source: {each.sources}."


def _is_abbreviated(term: str) -> bool:
    return any(word.isupper() and len(word) > 1 for word in term.split())


def _opening(sentence: str) -> str:
    """The first words of a sentence, to point at it."""
    words = sentence.split()
    return " ".join(words[:5]).rstrip(".,:;") + ("…" if len(words) > 5 else "")
