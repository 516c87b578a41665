"""The label-analysis draft: a guaranteed analysis for review, never a registered label.

Layout of the analysis (total first, nitrogen forms indented with the figure before the name,
sources directly below): Montana ARM 4.12.604, which prints the uniform format. The heading of
the other ingredients is older state practice (from memory, unverified).
"""

from __future__ import annotations

from typing import Final

from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.platypus import Flowable, HRFlowable, Indenter, KeepTogether, Paragraph

from blendshop.documents import figures, flowables, styles
from blendshop.documents.document import render
from orders.papers import wording
from orders.papers.view_models import GuaranteeLine, LabelDraftView

BANNER: Final = "DRAFT for review, not a registered label"
OTHER_INGREDIENTS_HEADING: Final = "ALSO CONTAINS NON-PLANT FOOD INGREDIENT(S):"
_PANEL_WIDTH: Final = 140 * mm
_FORM_INDENT: Final = 9 * mm
_FACT_LABEL: Final = 28 * mm
_LINE: Final = ParagraphStyle("label-line", parent=styles.BODY, fontSize=11, leading=14.5)
_PANEL_HEADING: Final = ParagraphStyle("label-panel", parent=styles.HEADING, spaceBefore=0)
_PRODUCT: Final = ParagraphStyle("label-product", parent=styles.TITLE, fontSize=22, leading=25)
_GRADE: Final = ParagraphStyle("label-grade", parent=styles.TITLE, fontSize=17, leading=20)
_NO_REGISTRATION: Final = (
    "This draft has not been filed with or reviewed by any authority. Whoever distributes the"
    " product must check every line against the law of the state where it is sold, and register"
    " or license it where that is required."
)


def render_label_draft(view: LabelDraftView) -> bytes:
    """The label draft as a PDF. The same view gives the same bytes."""
    masthead = wording.masthead(
        view.plant,
        "Label draft",
        view.number,
        figures.date(view.drafted_on),
        f"Draft label analysis of {view.product_name}",
        banner=BANNER,
    )
    story: list[Flowable] = [
        flowables.prose(view.product_name, _PRODUCT),
        flowables.verbatim(view.grade, _GRADE),
        flowables.gap(),
        *_analysis_panel(view),
        flowables.gap(styles.SECTION_GAP),
        _contents(view),
        *flowables.section("Directions for use", flowables.bullets(view.directions)),
        *flowables.section("Cautions", _cautions(view)),
        KeepTogether(flowables.section("For the reviewer", _review(view))),
    ]
    return render(masthead, story)


def _analysis_panel(view: LabelDraftView) -> list[Flowable]:
    """The analysis as one block; it is kept out of a table so that a long one may break."""
    block: list[Flowable] = [Paragraph("GUARANTEED ANALYSIS", _PANEL_HEADING)]
    if not view.guarantees:
        block.append(flowables.prose("No plant nutrient is guaranteed.", _LINE))
    for line in view.guarantees:
        block += _guarantee(line)
    if view.derived_from:
        sources = ", ".join(view.derived_from)
        block += [
            flowables.gap(),
            flowables.prose(f"Derived from: {sources}."),
        ]
    if view.slow_release_statement:
        block += [flowables.gap(), flowables.prose(view.slow_release_statement)]
    if view.other_ingredients:
        block += [
            flowables.gap(styles.SECTION_GAP),
            Paragraph(OTHER_INGREDIENTS_HEADING, styles.BODY_BOLD),
        ]
    for ingredient in view.other_ingredients:
        source = f" (derived from {ingredient.derived_from})" if ingredient.derived_from else ""
        figure = figures.guarantee(ingredient.pct)
        block.append(flowables.LeaderLine(f"{ingredient.label}{source}", figure, _LINE))
    narrow = styles.CONTENT_WIDTH - _PANEL_WIDTH
    return [
        Indenter(right=narrow),
        _rule(),
        *block,
        flowables.gap(),
        _rule(),
        Indenter(right=-narrow),
    ]


def _rule() -> HRFlowable:
    return HRFlowable(width="100%", thickness=styles.RULE, color=styles.INK, spaceAfter=3)


def _guarantee(line: GuaranteeLine) -> list[Flowable]:
    figure = figures.guarantee(line.pct)
    name = f"{line.label}{line.footnote_mark}"
    if not line.parent:
        return [flowables.LeaderLine(name, figure, _LINE)]
    return [
        Indenter(left=_FORM_INDENT),
        flowables.prose(f"{figure} {name}", _LINE),
        Indenter(left=-_FORM_INDENT),
    ]


def _contents(view: LabelDraftView) -> Flowable:
    weight = f"{figures.fixed(view.net_mass_lb, 1)} lb ({figures.fixed(view.net_mass_kg, 1)} kg)"
    volume = (
        f"{figures.fixed(view.net_volume_gal, 1)} gal ({figures.fixed(view.net_volume_l, 1)} L)"
    )
    density = (
        f"{figures.fixed(view.density_lb_per_gal, 2)} lb/gal at {view.density_temperature_f:g} °F"
    )
    contents = [
        ("Net weight", weight),
        ("Net volume", volume),
        ("Density", density),
        ("Lot", view.lot or "_" * 24),
    ]
    people = [("Guaranteed by", wording.address(view.guarantor))]
    if view.purchaser is not None:
        people.append(("Made for", wording.address(view.purchaser)))
    if view.delivered_on is not None:
        people.append(("Delivered", figures.date(view.delivered_on)))
    half = styles.CONTENT_WIDTH / 2
    return flowables.side_by_side(
        [
            [flowables.facts(contents, half - styles.GUTTER, label_width=_FACT_LABEL)],
            [flowables.facts(people, half, label_width=_FACT_LABEL)],
        ],
        [half, half],
    )


def _cautions(view: LabelDraftView) -> list[Flowable]:
    return [*flowables.bullets(view.cautions), flowables.prose(wording.DEFERENCE)]


def _review(view: LabelDraftView) -> list[Flowable]:
    notes = list(view.review_notes)
    for item in view.not_claimed:
        source = f" Source: {item.source}." if item.source else ""
        notes.append(f"Not claimed: {item.label} {figures.content(item.pct)}. {item.rule}{source}")
    return [flowables.prose(_NO_REGISTRATION), *flowables.bullets(notes, styles.SMALL)]
