"""The quote: first what is offered, at what price, when, until when, and how to accept it.

``QuoteView`` has no field for a cost or a margin, so none can be printed. Every figure is written
by ``quote_words``, which page and mail read too.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

from django.utils.text import capfirst
from django.utils.translation import gettext as _
from django.utils.translation import ngettext, pgettext
from reportlab.lib.units import mm
from reportlab.platypus import Flowable, Paragraph, Table

from blendshop.documents import flowables, styles
from blendshop.documents.document import render
from blendshop.documents.fonts import REGULAR
from blendshop.documents.text import exact, markup
from blendshop.figures.readers import reader
from formulas.engine.result import Severity
from orders.papers import wording
from orders.papers.finding_box import finding_box
from orders.papers.view_models import PaperFinding
from orders.planning.due_dates import FROM_STOCK
from orders.quoting.quote_words import Fact, LineWords, QuoteWords, quote_words
from orders.quoting.view_models import QuoteView
from orders.records import letterhead
from orders.records.written import writing

_WIDTH: Final = styles.CONTENT_WIDTH
_NUMBER_COLUMN: Final = 7 * mm
_PACKAGE_COLUMN: Final = 31 * mm
_AMOUNT_COLUMN: Final = 18 * mm
_PER_GAL_COLUMN: Final = 16 * mm
_PER_PACKAGE_COLUMN: Final = 20 * mm
_TOTAL_COLUMN: Final = 23 * mm
_TOTALS_WIDTH: Final = 100 * mm
_FACT_LABELS: Final = 30 * mm
_QR_SIDE: Final = 30 * mm


def render_quote(view: QuoteView, *, banner: str = "") -> bytes:
    """The quote as a PDF. The same view gives the same bytes. ``banner`` says what it is not."""
    with writing(view.written):
        return _render(view, quote_words(view, reader()), banner)


def _render(view: QuoteView, words: QuoteWords, banner: str) -> bytes:
    masthead = letterhead.customers_masthead(
        view.plant,
        _("Quote"),
        view.number,
        reader().date(view.quoted_on),
        _("Quote for {customer}").format(customer=view.customer.name),
        banner,
    )
    story: list[Flowable] = [
        _offer(view, words),
        flowables.gap(styles.SECTION_GAP),
        *_lines_and_totals(words),
        *flowables.section(_("Notes"), [flowables.prose(words.notes)] if words.notes else []),
        *flowables.section(_("Cautions"), _cautions(view)),
        *flowables.section(
            _("Terms"), [flowables.prose(term, styles.SMALL) for term in words.terms]
        ),
        flowables.gap(),
        flowables.prose(
            " ".join([_analysis_note(), *_due(view), *_weighed(words)]), styles.SMALL_ITALIC
        ),
        *(flowables.prose(each, styles.SMALL_ITALIC) for each in wording.translated(view.written)),
    ]
    return render(masthead, story)


def _offer(view: QuoteView, words: QuoteWords) -> Table:
    """What decides, in one box at the head of the paper."""
    facts = [Fact(_("For"), letterhead.address(view.customer)), *words.facts]
    if view.replaces:
        facts.append(Fact(_("In place of"), view.replaces))
    if words.contact:
        facts.append(Fact(_("Your contact"), words.contact))
    inner = _WIDTH - 2 * styles.BOX_PADDING
    qr_column = _QR_SIDE if view.accept_url else 0
    width = inner - (qr_column + styles.GUTTER if qr_column else 0)
    told: list[Flowable] = [
        flowables.facts(
            [(fact.label, fact.text) for fact in facts], width, label_width=_FACT_LABELS
        )
    ]
    if not view.accept_url:
        return flowables.boxed(told, _WIDTH, heavy=True)
    code: list[Flowable] = [
        flowables.QrCode(view.accept_url, _QR_SIDE),
        flowables.prose(_("Scan to accept"), styles.CENTERED_SMALL),
    ]
    row = flowables.side_by_side([told, code], [width + styles.GUTTER, qr_column])
    return flowables.boxed([row, flowables.gap(), *_acceptance(view, words)], _WIDTH, heavy=True)


def _acceptance(view: QuoteView, words: QuoteWords) -> list[Flowable]:
    url = exact(view.accept_url)
    link = f'<a href="{url}">{url}</a>' if view.accept_url.startswith("http") else url
    how = _(
        "To accept: scan the code or open the address below until {valid_until}, type your name and"
        " press Accept. No password is needed; whoever has this address can answer the quote."
    ).format(valid_until=words.valid_until)
    return [flowables.prose(how), Paragraph(link, styles.SMALL)]


def _lines_and_totals(words: QuoteWords) -> list[Flowable]:
    """All lines and their total; where the customer chooses, those of each choice by itself."""
    if not words.choices:
        totals = _totals(words.sums, words.total)
        return [_lines_table(words.lines), flowables.gap(), totals]
    story: list[Flowable] = [
        flowables.prose(
            _("You take one of {count}:").format(count=len(words.choices)), styles.BODY_BOLD
        ),
    ]
    for choice in words.choices:
        story += [
            flowables.gap(),
            flowables.prose(choice.name, styles.BODY_BOLD),
            _lines_table(choice.lines),
            flowables.gap(),
            _totals(choice.sums, choice.total),
        ]
    return story


def _lines_table(lines: Sequence[LineWords]) -> Table:
    fixed = (
        _NUMBER_COLUMN,
        _PACKAGE_COLUMN,
        _AMOUNT_COLUMN,
        _PER_GAL_COLUMN,
        _PER_PACKAGE_COLUMN,
        _TOTAL_COLUMN,
    )
    widths = [fixed[0], _WIDTH - sum(fixed), *fixed[1:]]
    header = [
        flowables.prose("#", styles.CAPTION),
        flowables.prose(pgettext("the product", "Blend"), styles.CAPTION),
        flowables.prose(_("Package"), styles.CAPTION),
        *(
            flowables.prose(text, styles.CAPTION_RIGHT)
            for text in (
                _("Quantity"),
                capfirst(lines[0].per_volume.label),
                _("Per package"),
                _("Total"),
            )
        ),
    ]
    return flowables.ruled_table(header, [_line_row(line) for line in lines], widths)


def _line_row(line: LineWords) -> list[object]:
    return [
        flowables.prose(str(line.number)),
        _blend_cell(line),
        flowables.prose(line.packed),
        flowables.prose(line.amount.replace(", ", "\n"), styles.BODY_RIGHT),
        flowables.prose(line.per_volume.text, styles.BODY_RIGHT),
        flowables.prose(line.per_package or "–", styles.BODY_RIGHT),
        flowables.prose(line.total, styles.BODY_BOLD_RIGHT),
    ]


def _blend_cell(line: LineWords) -> list[Flowable]:
    cell: list[Flowable] = [
        Paragraph(f"<b>{markup(line.title)}</b>", styles.BODY),
        flowables.verbatim(line.reference, styles.SMALL),
        flowables.prose(line.contents, styles.SMALL),
    ]
    if line.prices:
        prices = "; ".join(f"{price.text} {price.label}" for price in line.prices)
        cell.append(flowables.prose(prices, styles.SMALL))
    if line.includes:
        cell.append(flowables.prose(_included(line), styles.SMALL))
    cell += [Paragraph(f"<b>{markup(stop)}</b>", styles.SMALL) for stop in line.stops]
    return cell


def _included(line: LineWords) -> str:
    charges = ", ".join(f"{charge.label} {charge.text}" for charge in line.includes)
    return _("In the total: {charges}").format(charges=charges)


def _totals(sums: Sequence[Fact], total: str) -> Table:
    rows = [_amount_row(each.label, each.text) for each in sums]
    rows.append(_amount_row(_("Total"), total, bold=True))
    commands: list[Any] = [
        ("FONTNAME", (0, 0), (-1, -1), REGULAR),
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("TOPPADDING", (0, 0), (-1, -1), 1.5),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 2.5),
        ("LINEABOVE", (0, -1), (-1, -1), styles.RULE, styles.INK),
        ("LINEBELOW", (0, -1), (-1, -1), styles.HEAVY_RULE, styles.INK),
        ("RIGHTPADDING", (0, 0), (-1, -1), styles.CELL_PADDING),
        ("NOSPLIT", (0, max(-2, -len(rows))), (-1, -1)),
    ]
    widths = [_TOTALS_WIDTH - _TOTAL_COLUMN, _TOTAL_COLUMN]
    return Table(rows, colWidths=widths, hAlign="RIGHT", style=commands)


def _amount_row(label: str, amount: str, *, bold: bool = False) -> list[Paragraph]:
    return [
        flowables.prose(label, styles.BODY_BOLD if bold else styles.BODY),
        flowables.prose(amount, styles.BODY_BOLD_RIGHT if bold else styles.BODY_RIGHT),
    ]


def _cautions(view: QuoteView) -> list[Flowable]:
    general = [finding_box(caution) for caution in view.cautions]
    lines_by_caution: dict[str, list[str]] = {}
    for number, line in enumerate(view.lines, start=1):
        for caution in line.cautions:
            lines_by_caution.setdefault(caution, []).append(str(number))
    by_line = [
        finding_box(PaperFinding(Severity.CAUTION, _of_lines(numbers, caution)))
        for caution, numbers in lines_by_caution.items()
    ]
    return [*general, *by_line, flowables.prose(wording.deference())]


def _due(view: QuoteView) -> list[str]:
    """For what order the due date holds; nothing in quotes of before."""
    note = _("Accepted later it may be due later, which is said before you accept.")
    return [] if view.due_on is None else [f"{note} {FROM_STOCK}"]


def _analysis_note() -> str:
    return _(
        "The analysis is what the recipe is expected to contain, percent by weight; it is not a"
        " label. Volumes are at the blend's estimated density."
    )


def _weighed(words: QuoteWords) -> list[str]:
    """How stocks are weighed, each sentence once, with its lines where there are several."""
    lines_by_words: dict[str, list[str]] = {}
    for line in words.lines:
        if line.weighed:
            lines_by_words.setdefault(line.weighed, []).append(str(line.number))
    if len(lines_by_words) <= 1:
        return list(lines_by_words)
    return [_of_lines(numbers, told) for told, numbers in lines_by_words.items()]


def _of_lines(numbers: list[str], told: str) -> str:
    """``Line 2: ...`` or ``Lines 2, 3: ...``."""
    return ngettext("Line {numbers}: {told}", "Lines {numbers}: {told}", len(numbers)).format(
        numbers=", ".join(numbers), told=told
    )
