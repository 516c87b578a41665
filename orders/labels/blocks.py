"""The parts of a label, in sizes that a layout chooses: the same words in every layout.

Order and layout: Montana ARM 4.12.604, which prints the uniform format (net weight, brand, grade,
total first with its forms indented and the figure before the name, sources directly below the
analysis, beneficial substances, name and address, directions). Spanish words are our own
translation.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Final

from reportlab.lib.enums import TA_CENTER
from reportlab.lib.styles import ParagraphStyle
from reportlab.platypus import Flowable, HRFlowable, Indenter

from blendshop.documents import flowables, styles
from blendshop.documents.fonts import BOLD, REGULAR
from blendshop.documents.paragraph import SetOnce
from blendshop.documents.text import markup
from blendshop.figures.readers import house
from orders.labels.view_models import GuaranteeLine, LabelDraftView, OtherIngredient
from orders.papers import wording
from orders.records import letterhead

BANNER: Final = "DRAFT for review, not a registered label"
SPANISH_BANNER: Final = "Borrador para revisión, no es una etiqueta registrada"
ANALYSIS_HEADING: Final = "GUARANTEED ANALYSIS"
NOTHING_GUARANTEED: Final = "No plant nutrient is guaranteed."
#: Heading of Mont. Admin. R. 4.12.604(1)(f).
OTHER_INGREDIENTS_HEADING: Final = "CONTAINS BENEFICIAL SUBSTANCES"
PURPOSE_HEADING: Final = "Purpose Statement"
NET_WEIGHT: Final = "Net weight / Peso neto"
NET_VOLUME: Final = "Net volume / Volumen neto"
DENSITY: Final = "Density / Densidad"
LOT: Final = "Lot / Lote"
GUARANTEED_BY: Final = "Guaranteed by / Garantizado por"
MADE_FOR: Final = "Made for / Hecho para"
DELIVERED: Final = "Delivered / Entregado"
DIRECTIONS: Final = "Directions for use / Modo de empleo"
CAUTIONS: Final = "Cautions / Precauciones"
DIRECTIONS_AND_ALL_CAUTIONS: Final = (
    "Directions for use and all cautions / Modo de empleo y todas las precauciones"
)
ON_PLACARD: Final = "see the placard on this package / véase el cartel en este envase"
APPROVED: Final = "Label approved by {who} on {day}"
IN_USE_BEFORE: Final = "Label in use since {day}, before labels were approved here"
QR_CAPTION: Final = "Papers of this lot / Documentos del lote"
TO_FILL_IN: Final = "_" * 22


@dataclass(frozen=True, slots=True)
class LabelType:
    """The text styles of one label; ``small`` sets what is read close up."""

    product: ParagraphStyle
    grade: ParagraphStyle
    heading: ParagraphStyle
    line: ParagraphStyle
    body: ParagraphStyle
    body_bold: ParagraphStyle
    above_list: ParagraphStyle
    net: ParagraphStyle
    small: ParagraphStyle
    gap: float

    @property
    def form_indent(self) -> float:
        """How far a part stands in under its whole."""
        return 2.3 * self.line.fontSize


@lru_cache(maxsize=64)  # the scales of all layouts
def label_type(
    *,
    product: float,
    grade: float,
    line: float,
    net: float,
    body: float,
    small: float,
    leading: float = 1.22,
) -> LabelType:
    """Styles of these sizes in points; ``leading`` of what is read close up."""
    return LabelType(
        product=_style("product", product, 1.12, fontName=BOLD),
        grade=_style("grade", grade, 1.1, fontName=BOLD),
        heading=_style("heading", line * 1.05, 1.25, fontName=BOLD),
        line=_style("line", line, leading + 0.04),
        body=_style("body", body, leading),
        body_bold=_style("body-bold", body, leading, fontName=BOLD),
        above_list=_style("above-list", body, leading, fontName=BOLD, keepWithNext=1),
        net=_style("net", net, 1.2, fontName=BOLD),
        small=_style("small", small, leading),
        gap=0.45 * line,
    )


def standing(view: LabelDraftView) -> str:
    """The mark of a draft, or who approved the label and when."""
    if view.approved_on is None:
        return BANNER
    words = APPROVED if view.approved_by else IN_USE_BEFORE
    return words.format(who=view.approved_by, day=house().date(view.approved_on))


def banner_style(size: float) -> ParagraphStyle:
    """The mark of a draft, or who approved the label, centred."""
    return _style("banner", size, 1.25, fontName=BOLD, alignment=TA_CENTER)


def _style(name: str, size: float, leading: float, **options: Any) -> ParagraphStyle:
    font = options.setdefault("fontName", REGULAR)
    return ParagraphStyle(
        f"label-{name}-{size:g}",
        fontSize=size,
        leading=round(size * leading, 2),
        bulletFontName=font,
        textColor=styles.INK,
        splitLongWords=1,
        allowWidows=0,
        allowOrphans=0,
        **options,
    )


def net_contents(view: LabelDraftView, kind: LabelType) -> list[Flowable]:
    """Net weight and volume in both systems of units."""
    return [flowables.prose(f"{name}: {text}", kind.net) for name, text in net_words(view)]


def net_words(view: LabelDraftView) -> list[tuple[str, str]]:
    """Net weight and volume, heading and text."""
    weight = f"{house().number(view.net_mass_lb, 1)} lb ({house().number(view.net_mass_kg, 1)} kg)"
    volume = (
        f"{house().number(view.net_volume_gal, 1)} gal ({house().number(view.net_volume_l, 1)} L)"
        f" at {house().temperature(view.density_temperature_f)}"
    )
    return [(NET_WEIGHT, weight), (NET_VOLUME, volume)]


def name_and_grade(view: LabelDraftView, kind: LabelType) -> list[Flowable]:
    """Brand and grade; without a primary nutrient there is no grade."""
    grade = [flowables.verbatim(view.grade, kind.grade)] if view.grade else []
    return [flowables.prose(view.product_name, kind.product), *grade]


def analysis(view: LabelDraftView, kind: LabelType) -> list[Flowable]:
    """The guaranteed analysis with all that belongs directly below it, between two rules."""
    block: list[Flowable] = [SetOnce(ANALYSIS_HEADING, kind.heading)]
    if not view.guarantees:
        block.append(flowables.prose(NOTHING_GUARANTEED, kind.line))
    for line in view.guarantees:
        block += _guarantee(line, kind)
    for statement in (
        derived_from(view), view.slow_release_statement, view.stabilized_nitrogen_statement
    ):  # fmt: skip
        block += _statement(statement, kind)
    block += _other_ingredients(view, kind)
    block += _statement(view.metals_statement, kind)
    return [_rule(kind), *block, flowables.gap(kind.gap / 2), _rule(kind)]


def derived_from(view: LabelDraftView) -> str:
    """The list of nutrient sources; empty where nothing is guaranteed."""
    return f"Derived from: {', '.join(view.derived_from)}." if view.derived_from else ""


def ingredient_name(item: OtherIngredient) -> str:
    """An ingredient that is no plant nutrient, with what it comes from."""
    return f"{item.label} (derived from {item.derived_from})" if item.derived_from else item.label


def purpose(view: LabelDraftView) -> str:
    """The purpose statement, or room for the registrant to write it."""
    text = f"{view.purpose_statement}." if view.purpose_statement else TO_FILL_IN
    return f"{PURPOSE_HEADING}: {text}"


def _other_ingredients(view: LabelDraftView, kind: LabelType) -> list[Flowable]:
    if not view.other_ingredients:
        return []
    block: list[Flowable] = [
        flowables.gap(kind.gap),
        SetOnce(OTHER_INGREDIENTS_HEADING, kind.body_bold),
    ]
    for ingredient in view.other_ingredients:
        figure = house().guarantee(ingredient.pct)
        block.append(flowables.LeaderLine(ingredient_name(ingredient), figure, kind.line))
    return [*block, flowables.prose(purpose(view), kind.body)]


def _statement(text: str, kind: LabelType) -> list[Flowable]:
    return [flowables.gap(kind.gap / 2), flowables.prose(text, kind.body)] if text else []


def _guarantee(line: GuaranteeLine, kind: LabelType) -> list[Flowable]:
    figure = house().guarantee(line.pct)
    name = f"{line.label}{line.footnote_mark}"
    if not line.parent:
        return [flowables.LeaderLine(name, figure, kind.line)]
    return [
        Indenter(left=kind.form_indent),
        flowables.prose(f"{figure} {name}", kind.line),
        Indenter(left=-kind.form_indent),
    ]


def _rule(kind: LabelType) -> HRFlowable:
    return HRFlowable(
        width="100%",
        thickness=styles.RULE,
        color=styles.INK,
        spaceBefore=kind.gap / 3,
        spaceAfter=kind.gap / 2,
    )


def particulars(view: LabelDraftView, *, compact: bool) -> list[tuple[str, str]]:
    """What a custom product names beside its analysis, heading and text; blanks are for a pen.

    ``compact`` sets an address in running text.
    """
    between = ", " if compact else "\n"
    guarantor = between.join(letterhead.address(view.guarantor).splitlines())
    at = house().temperature(view.density_temperature_f)
    density = f"{house().density(view.density_lb_per_gal)} at {at}"
    delivered = house().date(view.delivered_on) if view.delivered_on else TO_FILL_IN
    purchaser = TO_FILL_IN
    if view.purchaser is not None:
        purchaser = between.join(letterhead.address(view.purchaser).splitlines())
    return [
        (GUARANTEED_BY, guarantor),
        (MADE_FOR, purchaser),
        (LOT, view.lot or TO_FILL_IN),
        (DELIVERED, delivered),
        (DENSITY, density),
    ]


def particulars_block(
    view: LabelDraftView, kind: LabelType, width: float, *, qr_side: float, compact: bool = False
) -> Flowable:
    """Guarantor, purchaser, lot, delivery and density, with the QR code on the right."""
    beside = qr_side + styles.GUTTER if view.page_url else 0.0
    table = flowables.facts(
        particulars(view, compact=compact),
        width - beside,
        label_width=(width - beside) * 0.34,
        style=kind.body,
        label_style=kind.body_bold,
    )
    if not view.page_url:
        return table
    code = flowables.QrCode(view.page_url, qr_side)
    return flowables.side_by_side(
        [[table], [code, flowables.prose(QR_CAPTION, kind.small)]], [width - qr_side, qr_side]
    )


def head_with_code(
    view: LabelDraftView, kind: LabelType, width: float, *, qr_side: float
) -> Flowable:
    """Net contents, brand and grade, with the QR code on the right."""
    head = [*net_contents(view, kind), *name_and_grade(view, kind)]
    if not view.page_url:
        return flowables.side_by_side([head], [width])
    code = flowables.QrCode(view.page_url, qr_side)
    return flowables.side_by_side([head, [code]], [width - qr_side, qr_side])


def running_text(
    view: LabelDraftView, kind: LabelType, notes: Sequence[str] = (), *, has_placard: bool = False
) -> list[Flowable]:
    """Particulars, directions and cautions, each a paragraph behind its heading.

    ``has_placard`` leaves directions and the further cautions to the placard beside the label.
    """
    cautions = view.package_cautions if has_placard else view.cautions
    (guarantor, purchaser, *short) = particulars(view, compact=True)
    paragraphs = [
        _behind(*guarantor),
        _behind(*purchaser),
        "&nbsp; ".join(_behind(heading, text) for heading, text in short),
        *(
            [_behind(DIRECTIONS, " ".join(view.directions))]
            if view.directions and not has_placard
            else []
        ),
        _behind(CAUTIONS, " ".join((*cautions, wording.DEFERENCE, *notes))),
        *([_behind(DIRECTIONS_AND_ALL_CAUTIONS, f"{ON_PLACARD}.")] if has_placard else []),
    ]
    return [
        each
        for words in paragraphs
        for each in (SetOnce(words, kind.body), flowables.gap(kind.gap / 4))
    ]


def _behind(heading: str, text: str) -> str:
    return f"<b>{markup(heading)}:</b> {markup(text)}"


def directions_and_cautions(view: LabelDraftView, kind: LabelType) -> list[Flowable]:
    """Directions, cautions, and that local codes and the SDS come first."""
    story: list[Flowable] = []
    if view.directions:
        story += [flowables.gap(kind.gap), SetOnce(DIRECTIONS, kind.above_list)]
        story += flowables.bullets(view.directions, kind.body)
    story += [flowables.gap(kind.gap), SetOnce(CAUTIONS, kind.above_list)]
    story += flowables.bullets(view.cautions, kind.body)
    return [*story, flowables.prose(wording.DEFERENCE, kind.body)]
