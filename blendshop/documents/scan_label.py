"""The label of one thing that a scanner finds again: a lot, a filled package.

Its code is printed large, as a bar code for the scanner that types it (Code 128, ISO/IEC 15417)
and as a QR code. Several go on a letter page, or one on each label of a roll.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from reportlab.graphics.barcode.code128 import Code128
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.platypus import Flowable

from blendshop.documents import flowables, styles
from blendshop.documents.label_stock import LabelStock

_WIDTH: Final = styles.CONTENT_WIDTH
_INSIDE: Final = _WIDTH - 2 * styles.BOX_PADDING
_QR_SIDE: Final = 34 * mm
_BAR_HEIGHT: Final = 14 * mm
_BAR_WIDTH: Final = 0.38 * mm  # one module; scanners at arm's length read 0.33 mm and above
_QUIET: Final = 10  # modules on each side
_CODE: Final = ParagraphStyle("code", parent=styles.TITLE, fontSize=24, leading=28)


@dataclass(frozen=True, slots=True)
class ScanLabel:
    """What stands on the label.

    ``code`` is what a scanner types, ``qr`` what a telephone opens (the code, where it is empty);
    ``figure`` is read from afar, ``warnings`` are set bold.
    """

    code: str
    title: str
    lines: tuple[str, ...]
    small_print: str
    figure: str = ""
    warnings: tuple[str, ...] = ()
    qr: str = ""


def on_letter_page(label: ScanLabel) -> Flowable:
    """The label in a box as wide as the page."""
    left: list[Flowable] = [
        flowables.verbatim(label.code, _CODE),
        flowables.prose(label.title, styles.TICKET_BOLD),
        *([flowables.prose(label.figure, styles.TICKET_BOLD)] if label.figure else []),
        *(flowables.prose(line, styles.BODY) for line in label.lines),
        *(flowables.prose(line, styles.BODY_BOLD) for line in label.warnings),
        flowables.gap(),
        _bars(label.code, _INSIDE - _QR_SIDE - styles.GUTTER, _BAR_HEIGHT),
        flowables.gap(),
        flowables.prose(label.small_print, styles.SMALL),
    ]
    right: list[Flowable] = [flowables.QrCode(label.qr or label.code, _QR_SIDE)]
    inside = flowables.side_by_side([left, right], [_INSIDE - _QR_SIDE, _QR_SIDE])
    return flowables.boxed([inside], _WIDTH, heavy=True)


def on_stock(label: ScanLabel, stock: LabelStock, scale: float) -> list[Flowable]:
    """The label on one of a roll, its type at ``scale`` of the stock's largest."""

    def text(words: Sequence[str], size: float, *, bold: bool = False) -> list[Flowable]:
        style = _sized(max(styles.LEAST_LABEL_PT, stock.largest_pt * size * scale), bold=bold)
        return [flowables.prose(line, style) for line in words if line]

    side = stock.qr_side
    code = _sized(max(styles.LEAST_LABEL_PT, stock.largest_pt * 0.9 * scale), bold=True)
    head: list[Flowable] = [
        flowables.verbatim(label.code, code),
        *text([label.title], 0.8, bold=True),
        *text([label.figure], 1.0, bold=True),
    ]
    lines = text(label.lines, 0.5)
    above, left = ([], [*head, *lines]) if stock.is_low else (head, lines)
    right: list[Flowable] = [flowables.QrCode(label.qr or label.code, side)]
    return [
        *above,
        flowables.side_by_side([left, right], [stock.width - side, side]),
        *text(label.warnings, 0.45, bold=True),
        flowables.gap(2),
        _bars(label.code, stock.width, stock.bar_height),
        *text([label.small_print], 0.0),
    ]


def _sized(size_pt: float, *, bold: bool) -> ParagraphStyle:
    base = styles.BODY_BOLD if bold else styles.BODY
    leading = round(size_pt * 1.12, 2)
    name = f"{base.name}-label-{size_pt:g}"
    return ParagraphStyle(name, parent=base, fontSize=size_pt, leading=leading)


def _bars(code: str, room: float, height: float) -> Code128:
    """The bar code, its modules narrower where the room asks for it."""
    modules = Code128(code, barWidth=1, quiet=False).width + 2 * _QUIET
    width = min(_BAR_WIDTH, room / modules)
    return Code128(
        code,
        barHeight=height,
        barWidth=width,
        humanReadable=False,
        quiet=True,
        lquiet=_QUIET * width,
        rquiet=_QUIET * width,
    )
