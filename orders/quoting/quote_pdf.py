"""The quote: what the customer would buy, for how much, until when, and how to accept.

``QuoteView`` has no field for a cost or a margin, so none can be printed.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Any, Final

from reportlab.lib.units import mm
from reportlab.platypus import Flowable, Paragraph, Table

from blendshop.documents import flowables, styles
from blendshop.documents.document import render
from blendshop.documents.fonts import REGULAR
from blendshop.documents.text import exact, markup
from blendshop.figures.readers import house
from formulas.engine.result import Severity
from orders.papers import wording
from orders.papers.finding_box import finding_box
from orders.papers.view_models import PaperFinding
from orders.planning.due_dates import FROM_STOCK
from orders.quoting.view_models import QuoteCharge, QuoteLine, QuoteView
from orders.records import letterhead

_WIDTH: Final = styles.CONTENT_WIDTH
_NUMBER_COLUMN: Final = 7 * mm
_PACKAGE_COLUMN: Final = 31 * mm
_AMOUNT_COLUMN: Final = 18 * mm
_PER_GAL_COLUMN: Final = 16 * mm
_PER_PACKAGE_COLUMN: Final = 20 * mm
_TOTAL_COLUMN: Final = 23 * mm
_TOTALS_WIDTH: Final = 100 * mm
_QR_SIDE: Final = 30 * mm
_ANALYSIS_NOTE: Final = (
    "The analysis is what the recipe is expected to contain, percent by weight; it is not a"
    " label. Volumes are at the blend's estimated density."
)
_DUE_NOTE: Final = (
    "Due if accepted on the day of this quote; accepted later it may be due later, which is said"
    " before you accept."
)


def render_quote(view: QuoteView) -> bytes:
    """The quote as a PDF. The same view gives the same bytes."""
    masthead = letterhead.masthead(
        view.plant,
        "Quote",
        view.number,
        house().date(view.quoted_on),
        f"Quote for {view.customer.name}",
    )
    story: list[Flowable] = [
        _parties(view),
        flowables.gap(),
        *_lines_and_totals(view),
        flowables.gap(styles.SECTION_GAP),
        *_acceptance(view),
        *flowables.section("Notes", [flowables.prose(view.notes)] if view.notes else []),
        *flowables.section("Cautions", _cautions(view)),
        *flowables.section("Terms", [flowables.prose(term, styles.SMALL) for term in view.terms]),
        flowables.gap(),
        flowables.prose(
            " ".join([_ANALYSIS_NOTE, *_due(view), *_weighed(view)]), styles.SMALL_ITALIC
        ),
    ]
    return render(masthead, story)


def _parties(view: QuoteView) -> Table:
    dates = [("Valid until", house().date(view.valid_until))]
    if view.due_on is not None:
        dates.append(("Due", house().date(view.due_on)))
    if view.prepared_by:
        dates.append(("Prepared by", view.prepared_by))
    if view.replaces:
        dates.append(("In place of", view.replaces))
    third = _WIDTH / 3
    columns: list[list[Flowable]] = [
        [
            flowables.prose("Customer", styles.CAPTION),
            flowables.prose(letterhead.address(view.customer)),
        ],
        [
            flowables.prose("Ship to", styles.CAPTION),
            flowables.prose(letterhead.address(view.ship_to)),
        ],
        [flowables.facts(dates, third, label_width=24 * mm)],
    ]
    return flowables.side_by_side(columns, [third] * 3)


def _lines_and_totals(view: QuoteView) -> list[Flowable]:
    """All lines and their total; where the customer chooses, those of each choice by itself."""
    if not view.choices:
        numbers = range(1, len(view.lines) + 1)
        totals = _totals(view, view.goods_total, view.charges, view.total)
        return [_lines_table(view, numbers), flowables.gap(), totals]
    story: list[Flowable] = [
        flowables.prose(f"You take one of {len(view.choices)}:", styles.BODY_BOLD),
    ]
    for choice in view.choices:
        story += [
            flowables.gap(),
            flowables.prose(choice.name, styles.BODY_BOLD),
            _lines_table(view, choice.lines),
            flowables.gap(),
            _totals(view, view.goods_of(choice), choice.deposits, choice.total),
        ]
    return story


def _lines_table(view: QuoteView, numbers: Sequence[int]) -> Table:
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
        flowables.prose("Blend", styles.CAPTION),
        flowables.prose("Package", styles.CAPTION),
        *(
            flowables.prose(text, styles.CAPTION_RIGHT)
            for text in ("Quantity", "Per gal", "Per package", "Total")
        ),
    ]
    rows = [_line_row(view, number, view.lines[number - 1]) for number in numbers]
    return flowables.ruled_table(header, rows, widths)


def _line_row(view: QuoteView, number: int, line: QuoteLine) -> list[object]:
    currency = view.currency
    quantity = f"{house().volume(line.volume_gal, 1)}\n{house().mass(line.mass_lb, 0)}"
    return [
        flowables.prose(str(number)),
        _blend_cell(line, currency),
        flowables.prose(f"{line.package_count} × {line.package_name}"),
        flowables.prose(quantity, styles.BODY_RIGHT),
        flowables.prose(house().unit_price(line.price_per_gal, currency), styles.BODY_RIGHT),
        flowables.prose(house().unit_price(line.price_per_package, currency), styles.BODY_RIGHT),
        flowables.prose(house().money(line.line_total, currency), styles.BODY_BOLD_RIGHT),
    ]


def _blend_cell(line: QuoteLine, currency: str) -> list[Flowable]:
    title = f"<b>{markup(line.blend_name)}</b>"
    name = f"{line.grade} · {line.blend_reference}" if line.grade else line.blend_reference
    cell: list[Flowable] = [
        Paragraph(title, styles.BODY),
        flowables.verbatim(name, styles.SMALL),
    ]
    analysis = ", ".join(f"{f.label} {house().content(f.pct)}" for f in line.analysis)
    slow = wording.slow_release(line.slow_release_pct)
    described = "; ".join(part for part in (analysis, slow) if part)
    density = house().density(line.density_lb_per_gal, 2)
    cell.append(flowables.prose(f"{described}; {density}", styles.SMALL))
    prices = _unit_prices(line, currency)
    if prices:
        cell.append(flowables.prose(prices, styles.SMALL))
    return cell


def _unit_prices(line: QuoteLine, currency: str) -> str:
    """Price per 1,000 sq ft and per lb of N, where they are known."""
    parts = []
    if line.price_per_1000sqft is not None and line.n_rate_lb_per_1000sqft is not None:
        rate = f"{house().significant(line.n_rate_lb_per_1000sqft)} lb N"
        price = house().unit_price(line.price_per_1000sqft, currency)
        parts.append(f"{price} per 1,000 sq ft at {rate}")
    if line.price_per_lb_n is not None:
        parts.append(f"{house().unit_price(line.price_per_lb_n, currency)} per lb N")
    return "; ".join(parts)


def _totals(
    view: QuoteView, goods: Decimal, charges: Sequence[QuoteCharge], total: Decimal
) -> Table:
    currency = view.currency
    rows = [_amount_row("Goods", goods, currency)]
    rows += [_charge_row(charge, currency) for charge in charges]
    rows.append(_amount_row("Total", total, currency, bold=True))
    commands: list[Any] = [
        ("FONTNAME", (0, 0), (-1, -1), REGULAR),
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("TOPPADDING", (0, 0), (-1, -1), 1.5),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 2.5),
        ("LINEABOVE", (0, -1), (-1, -1), styles.RULE, styles.INK),
        ("LINEBELOW", (0, -1), (-1, -1), styles.HEAVY_RULE, styles.INK),
        ("RIGHTPADDING", (0, 0), (-1, -1), styles.CELL_PADDING),
        ("NOSPLIT", (0, -2), (-1, -1)),
    ]
    widths = [_TOTALS_WIDTH - _TOTAL_COLUMN, _TOTAL_COLUMN]
    return Table(rows, colWidths=widths, hAlign="RIGHT", style=commands)


def _charge_row(charge: QuoteCharge, currency: str) -> list[Paragraph]:
    label = f"{charge.label} ({charge.detail})" if charge.detail else charge.label
    return _amount_row(label, charge.amount, currency)


def _amount_row(
    label: str, amount: Decimal, currency: str, *, bold: bool = False
) -> list[Paragraph]:
    return [
        flowables.prose(label, styles.BODY_BOLD if bold else styles.BODY),
        flowables.prose(
            house().money(amount, currency), styles.BODY_BOLD_RIGHT if bold else styles.BODY_RIGHT
        ),
    ]


def _acceptance(view: QuoteView) -> list[Flowable]:
    if not view.accept_url:
        return []
    url = exact(view.accept_url)
    link = f'<a href="{url}">{url}</a>' if view.accept_url.startswith("http") else url
    text: list[Flowable] = [
        flowables.prose("Accept or decline", styles.BODY_BOLD),
        flowables.prose(
            f"Scan the code or open the address below until {house().date(view.valid_until)}."
            " No password is needed; whoever has this address can answer the quote."
        ),
        flowables.gap(),
        Paragraph(link, styles.SMALL),
    ]
    qr_column = _QR_SIDE + styles.GUTTER
    row = flowables.side_by_side(
        [[flowables.QrCode(view.accept_url, _QR_SIDE)], text],
        [qr_column, _WIDTH - 2 * styles.BOX_PADDING - qr_column],
        middle=True,
    )
    return [flowables.boxed([row], _WIDTH)]


def _cautions(view: QuoteView) -> list[Flowable]:
    general = [finding_box(caution) for caution in view.cautions]
    lines_by_caution: dict[str, list[str]] = {}
    for number, line in enumerate(view.lines, start=1):
        for caution in line.cautions:
            lines_by_caution.setdefault(caution, []).append(str(number))
    by_line = [
        finding_box(PaperFinding(Severity.CAUTION, f"{_line_names(numbers)}: {caution}"))
        for caution, numbers in lines_by_caution.items()
    ]
    return [*general, *by_line, flowables.prose(wording.DEFERENCE)]


def _due(view: QuoteView) -> list[str]:
    """For what order the due date holds; nothing in quotes of before."""
    return [] if view.due_on is None else [f"{_DUE_NOTE} {FROM_STOCK}"]


def _weighed(view: QuoteView) -> list[str]:
    """How stocks are weighed, each sentence once, with its lines where there are several."""
    lines_by_words: dict[str, list[str]] = {}
    for number, line in enumerate(view.lines, start=1):
        if line.weighed:
            lines_by_words.setdefault(line.weighed, []).append(str(number))
    if len(lines_by_words) <= 1:
        return list(lines_by_words)
    return [f"{_line_names(numbers)}: {words}" for words, numbers in lines_by_words.items()]


def _line_names(numbers: list[str]) -> str:
    """``Line 2`` or ``Lines 2, 3``."""
    return f"{'Line' if len(numbers) == 1 else 'Lines'} {', '.join(numbers)}"
