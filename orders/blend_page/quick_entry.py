"""A wish said in one line, as on the phone: ``24-0-3 half slow, Fe 0.1, 4 totes``.

A line is read when it is entered, not while it is typed. What was understood fills fields and
stands as chips; the rest stays in the line, and in ``HEARD``, until it is settled: by the line
entered anew, by one of the choices offered, or by emptying the line. Until then nothing is
priced, so that no wish is taken for less than was said.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from django.http import QueryDict
from django.utils.translation import gettext as _

from blendshop.errors import BadInput
from formulas.spoken_wish.characters import LONGEST_LINE
from formulas.spoken_wish.meanings import Choice, Said
from formulas.spoken_wish.reading import Heard, read_line
from formulas.spoken_wish.wording import question_words
from orders.blend_page import fields as f
from orders.blend_page.chips import Chip, chips_of, keep
from orders.blend_page.line_fields import Filled, LineFields, Unsettled
from orders.blend_page.page_options import PageOptions

LINE: Final = "line"
#: Says what a press of Enter was for.
ENTERED: Final = "entered"
#: The line last entered, while something in it is open.
HEARD: Final = "heard"
#: Buttons: enter this line instead, take back the chip of this number.
SAY: Final = "say"
UNSAY: Final = "unsay"


@dataclass(frozen=True, slots=True)
class OfferedLine:
    """A choice: its words, what vouches for them, and the line they settle."""

    words: str
    source: str
    line: str


@dataclass(frozen=True, slots=True)
class OpenQuestion:
    """A phrase that has to be asked about."""

    words: str
    sentence: str
    choices: tuple[OfferedLine, ...]

    @property
    def is_vouched(self) -> bool:
        """Whether the choices are levels that come from somewhere."""
        return any(choice.source for choice in self.choices)


@dataclass(frozen=True, slots=True)
class Piece:
    """A part of the line as it was said; ``is_open`` where it is not settled."""

    text: str
    is_open: bool


@dataclass(frozen=True, slots=True)
class LineOnPage:
    """All that is shown of a line. ``rest`` is what of it is open, ``blocks`` forbids a price."""

    heard: str = ""
    rest: str = ""
    pieces: tuple[Piece, ...] = ()
    questions: tuple[OpenQuestion, ...] = ()
    chips: tuple[Chip, ...] = ()
    problem: str = ""
    blocks: bool = False


@dataclass(frozen=True, slots=True)
class _Open:
    start: int
    end: int
    words: str
    sentence: str = ""
    choices: tuple[Choice, ...] = ()
    blocks: bool = True


def with_quick_entry(data: QueryDict, options: PageOptions) -> QueryDict:
    """The data with what was said filled in, or with a chip taken back.

    What the line does not name stays.
    """
    if UNSAY in data:
        return _unsaid(data)
    line = data.get(SAY, "") or (data.get(LINE, "") if data.get(ENTERED) == LINE else "")
    if not line.strip():
        return data
    changed = data.copy()
    changed.pop(SAY, None)
    try:
        heard = _read(line, data, options)
    except BadInput:
        # What is too long stays too long, and no longer.
        changed[LINE] = changed[HEARD] = line[: LONGEST_LINE + 1]
        return changed
    fields = LineFields(options, data.get("package", ""), heard.said)
    chips = list(chips_of(data))
    for said in heard.said:
        filled = fields.of(said.meaning)
        if isinstance(filled, Filled) and filled.label:
            chip = Chip(said.words, filled.label, filled.fields)
            _fill_in(changed, chip)
            chips.append(chip)
    keep(changed, [chip for chip in chips if chip.stands_in(changed)])
    open_points = _open_points(heard, fields)
    # Only what is open stays: a second Enter must not undo figures typed since.
    changed[LINE] = _rest(open_points)
    changed[HEARD] = line
    if not open_points:
        del changed[HEARD]
    return changed


def with_line_taken(data: QueryDict, options: PageOptions) -> QueryDict:
    """The data with a line that stands there filled in although nobody pressed Enter."""
    entered = data.copy()
    entered[ENTERED] = LINE
    return with_quick_entry(entered, options)


def line_on_page(data: QueryDict, options: PageOptions) -> LineOnPage:
    """What stands of the line: chips, and what of the line last entered is open."""
    chips = chips_of(data)
    heard_line = data.get(HEARD, "")
    if not heard_line.strip() or not data.get(LINE, heard_line).strip():
        return LineOnPage(chips=chips)
    try:
        heard = _read(heard_line, data, options)
    except BadInput as bad:
        problem = " ".join(bad.fields.values())
        return LineOnPage(heard_line, heard_line, chips=chips, problem=problem, blocks=True)
    points = _open_points(heard, LineFields(options, data.get("package", ""), heard.said))
    rest = _rest(points)
    unclear = ", ".join(each.words for each in heard.unclear)
    if not points:
        # Another package was chosen meanwhile, say: what was said then has not been taken yet.
        problem = _("Press Enter to take this line.")
    else:
        problem = _("Not understood: {words}.").format(words=unclear) if unclear else ""
    return LineOnPage(
        heard=heard_line,
        rest=rest or heard_line,
        pieces=tuple(_pieces(heard_line, points)),
        questions=tuple(_asked(points)),
        chips=chips,
        problem=problem,
        blocks=not points or any(point.blocks for point in points),
    )


def _read(line: str, data: QueryDict, options: PageOptions) -> Heard:
    try:
        n_pct = float(data.get(f.wish_field("N", "min"), ""))
    except ValueError:
        n_pct = None
    return read_line(line, [stock.code for stock in options.catalogue.stocks], n_pct)


def _unsaid(data: QueryDict) -> QueryDict:
    changed, chips = data.copy(), list(chips_of(data))
    places = {str(place): chip for place, chip in enumerate(chips)}
    unwanted = places.get(data.get(UNSAY, ""))
    del changed[UNSAY]
    if unwanted is not None:
        chips.remove(unwanted)
        unwanted.taken_back(changed)
    keep(changed, chips)
    return changed


def _fill_in(data: QueryDict, chip: Chip) -> None:
    for name, value in chip.fields:
        if name == "exclude":
            data.setlist(name, [*dict.fromkeys([*data.getlist(name), value])])
        else:
            data[name] = value


def _open_points(heard: Heard, fields: LineFields) -> list[_Open]:
    found = [
        _Open(each.start, each.end, each.words, blocks=each.has_figure) for each in heard.unclear
    ]
    found += [
        _Open(each.start, each.end, each.words, question_words(each), each.choices)
        for each in heard.questions
    ]
    found += _unsettled(heard.said, fields)
    return sorted(found, key=lambda point: point.start)


def _unsettled(said: Sequence[Said], fields: LineFields) -> Iterator[_Open]:
    for each in said:
        result = fields.of(each.meaning)
        if isinstance(result, Unsettled):
            yield _Open(each.start, each.end, each.words, result.sentence, result.choices)


def _rest(points: Sequence[_Open]) -> str:
    return ", ".join(point.words for point in points)


def _pieces(line: str, points: Sequence[_Open]) -> Iterator[Piece]:
    at = 0
    for point in points:
        yield Piece(line[at : point.start], is_open=False)
        yield Piece(line[max(at, point.start) : point.end], is_open=True)
        at = max(at, point.end)
    yield Piece(line[at:], is_open=False)


def _asked(points: Sequence[_Open]) -> Iterator[OpenQuestion]:
    for point in points:
        if not point.sentence:
            continue
        choices = tuple(
            OfferedLine(
                choice.words,
                choice.source,
                ", ".join(choice.words if other is point else other.words for other in points),
            )
            for choice in point.choices
        )
        yield OpenQuestion(point.words, point.sentence, choices)
