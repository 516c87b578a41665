"""A boxed label that a keyboard-wedge scanner types: a code large, as a bar code and as a QR code.

Bar code: Code 128 (ISO/IEC 15417).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from reportlab.graphics.barcode.code128 import Code128
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.platypus import Flowable

from blendshop.documents import flowables, styles

_WIDTH: Final = styles.CONTENT_WIDTH
_INSIDE: Final = _WIDTH - 2 * styles.BOX_PADDING
_QR_SIDE: Final = 34 * mm
_BAR_HEIGHT: Final = 14 * mm
_BAR_WIDTH: Final = 0.38 * mm  # one module; scanners at arm's length read 0.33 mm and above
_CODE: Final = ParagraphStyle("code", parent=styles.TITLE, fontSize=24, leading=28)


def scan_label(code: str, lines: Sequence[Flowable], small_print: str) -> Flowable:
    """The label of one thing; ``lines`` stand between its code and the bar code."""
    left: list[Flowable] = [
        flowables.verbatim(code, _CODE),
        *lines,
        flowables.gap(),
        Code128(
            code,
            barHeight=_BAR_HEIGHT,
            barWidth=_BAR_WIDTH,
            humanReadable=False,
            quiet=True,
            lquiet=10 * _BAR_WIDTH,
            rquiet=10 * _BAR_WIDTH,
        ),
        flowables.gap(),
        flowables.prose(small_print, styles.SMALL),
    ]
    right: list[Flowable] = [flowables.QrCode(code, _QR_SIDE)]
    inside = flowables.side_by_side([left, right], [_INSIDE - _QR_SIDE, _QR_SIDE])
    return flowables.boxed([inside], _WIDTH, heavy=True)
