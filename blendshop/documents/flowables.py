"""Building blocks the papers share: tables, fact lists, finding boxes, QR codes, leader lines."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import lru_cache
from typing import Any, Final

import segno
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.utils import simpleSplit
from reportlab.pdfgen.pathobject import PDFPathObject
from reportlab.platypus import CondPageBreak, Flowable, KeepTogether, Spacer, Table

from blendshop.documents import styles
from blendshop.documents.fonts import REGULAR, text_width
from blendshop.documents.paragraph import SetOnce
from blendshop.documents.text import exact, markup, plain

_QUIET_ZONE: Final = 4  # modules; ISO/IEC 18004 asks for four on each side
_BASE: Final[list[tuple[Any, ...]]] = [
    ("FONTNAME", (0, 0), (-1, -1), REGULAR),  # an empty cell would name Helvetica
    ("VALIGN", (0, 0), (-1, -1), "TOP"),
    ("LEFTPADDING", (0, 0), (-1, -1), styles.CELL_PADDING),
    ("RIGHTPADDING", (0, 0), (-1, -1), styles.CELL_PADDING),
    ("TOPPADDING", (0, 0), (-1, -1), styles.CELL_PADDING),
    ("BOTTOMPADDING", (0, 0), (-1, -1), styles.CELL_PADDING),
]


def prose(text: str, style: ParagraphStyle = styles.BODY) -> SetOnce:
    """Text typed by a person or made by the engine: cleaned, escaped, subscripts set."""
    return SetOnce(markup(text), style)


def verbatim(text: str, style: ParagraphStyle = styles.BODY) -> SetOnce:
    """A code, number or address, letter for letter."""
    return SetOnce(exact(text), style)


def section(
    title: str, body: Sequence[Flowable], style: ParagraphStyle = styles.HEADING
) -> list[Flowable]:
    """A heading that stays with the first flowable below it; nothing when there is none."""
    if not body:
        return []
    return [KeepTogether([SetOnce(markup(title), style), body[0]]), *body[1:]]


def breaking_section(
    title: str, table: Table, style: ParagraphStyle, *, first_row_room: float
) -> list[Flowable]:
    """A heading above a table that may run over pages.

    Starts a new page only when ``first_row_room`` is not left, so that a long table begins where
    it stands and its heading is never alone at the foot of a page.
    """
    return [CondPageBreak(first_row_room), SetOnce(markup(title), style), table]


def ruled_table(
    header: Sequence[Any],
    rows: Sequence[Sequence[Any]],
    widths: Sequence[float],
    *,
    cell_padding: float = styles.CELL_PADDING,
    grid: bool = False,
    extra: Iterable[tuple[Any, ...]] = (),
) -> Table:
    """A table whose header row is repeated on each page and whose rows are never split."""
    lines: list[tuple[Any, ...]] = (
        [("GRID", (0, 0), (-1, -1), styles.HAIRLINE, styles.INK)]
        if grid
        else [("LINEBELOW", (0, 1), (-1, -1), styles.HAIRLINE, styles.FAINT_LINE)]
    )
    commands: list[tuple[Any, ...]] = [
        *_BASE,
        ("BACKGROUND", (0, 0), (-1, 0), styles.TINT),
        ("LINEABOVE", (0, 0), (-1, 0), styles.RULE, styles.INK),
        ("LINEBELOW", (0, 0), (-1, 0), styles.RULE, styles.INK),
        ("VALIGN", (0, 0), (-1, 0), "BOTTOM"),
        ("TOPPADDING", (0, 1), (-1, -1), cell_padding),
        ("BOTTOMPADDING", (0, 1), (-1, -1), cell_padding),
        *lines,
        *extra,
    ]
    return Table(
        [list(header), *(list(row) for row in rows)],
        colWidths=list(widths),
        repeatRows=1,
        splitByRow=1,
        style=commands,
    )


def facts(
    pairs: Sequence[tuple[str, str]],
    width: float,
    *,
    label_width: float,
    style: ParagraphStyle = styles.BODY,
    label_style: ParagraphStyle = styles.BODY_BOLD,
) -> Table:
    """Label and value, one pair a row; pairs without a value are left out by the caller."""
    rows = [[prose(label, label_style), prose(value, style)] for label, value in pairs]
    commands = [
        *_BASE,
        ("LEFTPADDING", (0, 0), (0, -1), 0),
        ("TOPPADDING", (0, 0), (-1, -1), 0.5),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 1.5),
    ]
    return Table(rows, colWidths=[label_width, width - label_width], style=commands)


def side_by_side(
    cells: Sequence[Sequence[Flowable]], widths: Sequence[float], *, middle: bool = False
) -> Table:
    """Columns without lines or outer padding; a gutter after each but the last."""
    commands = [
        *_BASE,
        ("VALIGN", (0, 0), (-1, -1), "MIDDLE" if middle else "TOP"),
        ("LEFTPADDING", (0, 0), (-1, -1), 0),
        ("RIGHTPADDING", (0, 0), (-2, -1), styles.GUTTER),
        ("RIGHTPADDING", (-1, 0), (-1, -1), 0),
        ("TOPPADDING", (0, 0), (-1, -1), 0),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 0),
    ]
    return Table([[list(cell) for cell in cells]], colWidths=list(widths), style=commands)


def writing_fields(captions: Sequence[str], widths: Sequence[float]) -> Table:
    """A row of empty fields to write in, each with its caption in the upper left corner."""
    commands = [
        *_BASE,
        ("GRID", (0, 0), (-1, -1), styles.HAIRLINE, styles.INK),
        ("TOPPADDING", (0, 0), (-1, -1), 1),
    ]
    return Table(
        [[prose(caption, styles.SMALL) for caption in captions]],
        colWidths=list(widths),
        rowHeights=[styles.WRITING_HEIGHT],
        style=commands,
    )


def boxed(
    content: Sequence[Flowable], width: float, *, heavy: bool = False, tinted: bool = False
) -> Table:
    """Flowables in a frame of their own; kept on one page."""
    commands: list[tuple[Any, ...]] = [
        *_BASE,
        ("BOX", (0, 0), (-1, -1), styles.HEAVY_RULE if heavy else styles.RULE, styles.INK),
        ("LEFTPADDING", (0, 0), (-1, -1), styles.BOX_PADDING),
        ("RIGHTPADDING", (0, 0), (-1, -1), styles.BOX_PADDING),
        ("TOPPADDING", (0, 0), (-1, -1), styles.BOX_PADDING),
        ("BOTTOMPADDING", (0, 0), (-1, -1), styles.BOX_PADDING),
    ]
    if tinted:
        commands.append(("BACKGROUND", (0, 0), (-1, -1), styles.TINT))
    return Table([[list(content)]], colWidths=[width], style=commands)


def remark(
    word: str, message: str, source: str, bar: float, style: ParagraphStyle = styles.BODY
) -> Flowable:
    """A message behind one bold word and a black bar on the left, ``bar`` points wide.

    ``source`` is a sentence in smaller type behind it.
    """
    text = f"<b>{exact(word)}.</b> {markup(message)}"
    if source:
        text += f' <i><font size="{styles.SMALL.fontSize}">{markup(source)}</font></i>'
    commands = [
        *_BASE,
        ("LINEBEFORE", (0, 0), (0, -1), bar, styles.INK),
        ("LEFTPADDING", (0, 0), (-1, -1), styles.BOX_PADDING + bar / 2),
        ("TOPPADDING", (0, 0), (-1, -1), 1),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 3),
    ]
    table = Table([[SetOnce(text, style)]], colWidths=[styles.CONTENT_WIDTH - 6], style=commands)
    table.spaceAfter = styles.SMALL_GAP
    return table


def bullets(lines: Sequence[str], style: ParagraphStyle = styles.BODY) -> list[Flowable]:
    """One paragraph a line, each behind a bullet."""
    hanging = _hanging(style, "bullet", 10)
    return [SetOnce(markup(line), hanging, bulletText="•") for line in lines]


def numbered(lines: Sequence[str], style: ParagraphStyle = styles.BODY) -> list[Flowable]:
    """One paragraph a line, counted from 1."""
    hanging = _hanging(style, "number", 16)
    return [
        SetOnce(markup(line), hanging, bulletText=f"{number}.")
        for number, line in enumerate(lines, start=1)
    ]


@lru_cache(maxsize=64)
def _hanging(style: ParagraphStyle, name: str, indent: float) -> ParagraphStyle:
    """A style made once is one whose words need no reading of their own (``SetOnce``)."""
    return ParagraphStyle(f"{style.name}-{name}", parent=style, leftIndent=indent, spaceAfter=1.5)


def gap(height: float = styles.SMALL_GAP) -> Spacer:
    """White space."""
    return Spacer(1, height)


class QrCode(Flowable):
    """A QR code of ``value``, drawn as vector squares; clickable when it is a web address."""

    def __init__(self, value: str, side: float) -> None:
        super().__init__()
        self.value = value
        self.side = side

    def wrap(self, _available_width: float, _available_height: float) -> tuple[float, float]:
        return self.side, self.side

    def draw(self) -> None:
        path, modules = _code_path(self.value)
        self.canv.saveState()
        self.canv.scale(self.side / modules, self.side / modules)
        self.canv.setFillColor(styles.INK)
        self.canv.drawPath(path, stroke=0, fill=1)
        self.canv.restoreState()
        if self.value.startswith(("https://", "http://")):
            self.canv.linkURL(self.value, (0, 0, self.side, self.side), relative=1)


@lru_cache(maxsize=256)
def _code_path(value: str) -> tuple[PDFPathObject, int]:
    """A QR code and its side in modules; one address stands on several papers of a lot."""
    matrix = segno.make(value, error="m", micro=False).matrix
    side, path = len(matrix) + 2 * _QUIET_ZONE, PDFPathObject()
    for row, modules in enumerate(matrix):
        for start, length in _dark_runs(modules):
            path.rect(start + _QUIET_ZONE, side - (row + 1 + _QUIET_ZONE), length, 1)
    return path, side


def _dark_runs(modules: Sequence[int]) -> list[tuple[int, int]]:
    """Start and length of each run of dark modules in a row; fewer, seamless rectangles."""
    runs: list[tuple[int, int]] = []
    for index, dark in enumerate(modules):
        if dark and runs and sum(runs[-1]) == index:
            runs[-1] = (runs[-1][0], runs[-1][1] + 1)
        elif dark:
            runs.append((index, 1))
    return runs


class LeaderLine(Flowable):
    """``Total Nitrogen (N) ........ 24%``: a name, a row of dots, a figure at the right edge.

    A long name wraps; the dots follow its last line.
    """

    def __init__(self, name: str, figure: str, style: ParagraphStyle) -> None:
        super().__init__()
        self._name, self._figure, self._style = plain(name), plain(figure), style
        self._lines: list[str] = []
        self._width = 0.0

    def wrap(self, available_width: float, _available_height: float) -> tuple[float, float]:
        style = self._style
        self._width = available_width
        room = available_width - text_width(self._figure, style.fontName, style.fontSize) - 24
        self._lines = simpleSplit(self._name, style.fontName, style.fontSize, room)
        return available_width, len(self._lines) * style.leading

    def draw(self) -> None:
        style, canvas = self._style, self.canv
        canvas.setFont(style.fontName, style.fontSize)
        canvas.setFillColor(style.textColor)
        y = len(self._lines) * style.leading - style.fontSize
        for line in self._lines[:-1]:
            canvas.drawString(0, y, line)
            y -= style.leading
        canvas.drawString(0, y, *self._led_line())

    def _led_line(self) -> tuple[str, None, float]:
        """The last line as one string, so that it is read back as one, and its letter spacing.

        The spacing spreads the part of a dot left over (a few hundredths of a point a letter),
        which puts the figure flush with the right edge.
        """
        measure = (self._style.fontName, self._style.fontSize)
        frame = f"{self._lines[-1]}  {self._figure}"
        dots = "." * int((self._width - text_width(frame, *measure)) / text_width(".", *measure))
        line = f"{self._lines[-1]} {dots} {self._figure}"
        return line, None, (self._width - text_width(line, *measure)) / len(line)
