"""From an uploaded table to a plan: what is new, changed or as before, and what is wrong where.

Nothing is written here. The plan is made again when it is confirmed, and its ``digest`` tells
whether the catalogue has changed since somebody looked at it.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from enum import StrEnum
from hashlib import sha256
from typing import Final

from django.utils.translation import gettext as _

from blendshop.snapshot import Snapshot
from formulas.engine.composition import ANALYSIS_KEYS
from formulas.engine.label.metals import METALS
from formulas.models import BaseStock, Trait
from formulas.stocks.cost_moves import CostMove, cost_move
from formulas.stocks.table.cells import (
    CellError,
    amount_in,
    day_in,
    known_mark,
    number_in,
    unit_of_cost,
    value_in,
)
from formulas.stocks.table.fields import (
    ANALYSIS,
    COST,
    FIELDS,
    METAL,
    NEEDED_WHEN_NEW,
    TRAITS,
    StockField,
    in_text,
)
from formulas.stocks.table.rules import code_problem, stock_problems
from formulas.stocks.table.table import Line, read_lines

_MOST_PPM: Final = 1_000_000


class Outcome(StrEnum):
    NEW = "new"
    CHANGED = "changed"
    UNCHANGED = "unchanged"


@dataclass(frozen=True, slots=True)
class Change(Snapshot):
    """What one line does. ``old`` and ``new`` are what stands there, in words."""

    line: int
    code: str
    field: str
    outcome: Outcome
    old: str
    new: str


@dataclass(frozen=True, slots=True)
class LineError(Snapshot):
    """What is wrong in one cell of the file."""

    line: int
    column: str
    message: str


@dataclass(frozen=True, slots=True)
class PlannedFigure:
    """A content to set; None as ``pct`` removes it."""

    key: str
    pct: float | None
    source: str
    mark: str


@dataclass(frozen=True, slots=True)
class PlannedMetal:
    """A metal to set; None as ``ppm`` removes it."""

    metal: str
    ppm: float | None
    source: str
    mark: str
    measured_on: date | None


@dataclass(frozen=True, slots=True)
class PlannedCost:
    """A cost entry to add."""

    amount: Decimal
    unit: str
    effective_from: date
    note: str


@dataclass(slots=True)
class PlannedStock:
    """A stock with its new values set but not saved, and what hangs on it."""

    row: BaseStock
    is_new: bool
    row_changed: bool = False
    traits: tuple[Trait, ...] | None = None
    figures: list[PlannedFigure] = field(default_factory=list)
    metals: list[PlannedMetal] = field(default_factory=list)
    costs: list[PlannedCost] = field(default_factory=list)

    def cost_moves(self) -> Iterator[CostMove]:
        """From what stands on the day of each new cost; a new stock has none before."""
        for cost in self.costs:
            stands = None if self.is_new else self.row.cost_on(cost.effective_from)
            yield cost_move(self.row, stands, cost.amount, cost.unit)

    def analysis(self) -> dict[str, float]:
        """The contents as they will be."""
        contents = {} if self.is_new else self.row.analysis()
        for figure in self.figures:
            contents.pop(figure.key, None)
            if figure.pct is not None:
                contents[figure.key] = figure.pct
        return contents


@dataclass(frozen=True, slots=True)
class Plan:
    """Everything an upload would do, in the order of the file; nothing if there are errors."""

    changes: tuple[Change, ...]
    errors: tuple[LineError, ...]
    stocks: tuple[PlannedStock, ...]

    @property
    def digest(self) -> str:
        return sha256(repr(self.changes).encode()).hexdigest()

    @property
    def cost_moves(self) -> tuple[CostMove, ...]:
        """How every cost of the file moves; nothing of a file with errors."""
        if self.errors:
            return ()
        return tuple(move for stock in self.stocks for move in stock.cost_moves())

    def count(self, outcome: str) -> int:
        return sum(change.outcome == outcome for change in self.changes)

    @property
    def counts(self) -> dict[str, int]:
        return {outcome.value: self.count(outcome) for outcome in Outcome}


def plan_upload(text: str, *, costs_only: bool = False) -> Plan:
    """The plan of a table; BadInput if the text is no table at all.

    With ``costs_only`` any other field, and any stock that is not there, is an error of its line.
    """
    rows = {row.code: row for row in BaseStock.objects.for_engine().with_metals()}
    traits = {trait.code: trait for trait in Trait.objects.all()}
    by_code: dict[str, list[Line]] = defaultdict(list)
    for line in read_lines(text):
        by_code[line.code].append(line)
    planners = [
        _StockPlanner(code, rows.get(code), traits, costs_only=costs_only) for code in by_code
    ]
    for planner, lines in zip(planners, by_code.values(), strict=True):
        planner.read(lines)
    return Plan(
        changes=tuple(sorted((c for p in planners for c in p.changes), key=lambda c: c.line)),
        errors=tuple(sorted((e for p in planners for e in p.errors), key=lambda e: e.line)),
        stocks=tuple(planner.stock for planner in planners),
    )


class _StockPlanner:
    """Reads the lines of one stock."""

    def __init__(
        self, code: str, row: BaseStock | None, traits: dict[str, Trait], *, costs_only: bool
    ) -> None:
        self.code = code
        self.traits = traits
        self.costs_only = costs_only
        self.stock = PlannedStock(row or BaseStock(code=code), is_new=row is None)
        self.changes: list[Change] = []
        self.errors: list[LineError] = []
        self.seen: dict[tuple[str, str], int] = {}

    def read(self, lines: Iterable[Line]) -> None:
        lines = list(lines)
        if self.stock.is_new and self.costs_only:
            told = _("There is no stock {code}.").format(code=self.code or "–")
            self.errors.extend(LineError(line.number, "code", told) for line in lines)
            return
        if self.stock.is_new and (problem := code_problem(self.code)):
            self.errors.append(LineError(lines[0].number, "code", problem))
            return
        for line in lines:
            try:
                self._check_once(line)
                self._read_line(line)
            except CellError as error:
                self.errors.append(LineError(line.number, error.column, error.message))
        stock = self.stock
        if not self.errors and (stock.is_new or stock.row_changed or stock.figures):
            self._check_stock(lines)

    def _check_once(self, line: Line) -> None:
        day = line.effective_from if line.field == COST else ""
        # The same day may be written in two ways; what is no day is said later.
        with suppress(CellError):
            day = day and day_in(day, "effective_from").isoformat()
        key = (line.field, day)
        if key in self.seen:
            raise CellError(
                "field",
                _("{field} stands on line {seen} already.").format(
                    field=line.field, seen=self.seen[key]
                ),
            )
        self.seen[key] = line.number

    def _read_line(self, line: Line) -> None:
        if self.costs_only and line.field != COST:
            raise CellError(
                "field",
                _("{field} is no cost; a formulator uploads other figures.").format(
                    field=line.field or _("An empty field")
                ),
            )
        if line.field in FIELDS:
            self._read_field(line, FIELDS[line.field])
        elif line.field == TRAITS:
            self._read_traits(line)
        elif line.field == COST:
            self._read_cost(line)
        elif line.field.startswith(ANALYSIS):
            self._read_figure(line, line.field.removeprefix(ANALYSIS))
        elif line.field.startswith(METAL):
            self._read_metal(line, line.field.removeprefix(METAL))
        else:
            raise CellError(
                "field",
                _("{field} is not a known field.").format(field=line.field or _("An empty cell")),
            )

    def _read_field(self, line: Line, spec: StockField) -> None:
        row = self.stock.row
        value = value_in(line.value, spec)
        before = "" if self.stock.is_new else in_text(getattr(row, spec.name))
        after = in_text(value)
        old, new = before, after
        if spec.source:
            source, mark = self._source_of(line, is_changed=before != after and after != "")
            old_source = "" if self.stock.is_new else in_text(getattr(row, spec.source))
            if source and (source, mark) != (old_source, getattr(row, spec.mark)):
                setattr(row, spec.source, source)
                setattr(row, spec.mark, mark)
                old, new = _with_source(before, old_source), _with_source(after, source)
            elif after == "" and old_source and before != "":
                setattr(row, spec.source, "")
                setattr(row, spec.mark, "")
        setattr(row, spec.name, value)
        self._note(line, old, new)
        self.stock.row_changed |= old != new

    def _read_traits(self, line: Line) -> None:
        codes = sorted(set(line.value.replace(",", " ").replace(";", " ").split()))
        unknown = [code for code in codes if code not in self.traits]
        if unknown:
            raise CellError(
                "value", _("{unknown} is not a known trait.").format(unknown=", ".join(unknown))
            )
        row = self.stock.row
        old = "" if self.stock.is_new else " ".join(sorted(t.code for t in row.traits.all()))
        if old != " ".join(codes):
            self.stock.traits = tuple(self.traits[code] for code in codes)
        self._note(line, old, " ".join(codes))

    def _read_figure(self, line: Line, key: str) -> None:
        if key not in ANALYSIS_KEYS:
            why = "give nitrogen by form" if key == "N" else "it is not a key of an analysis"
            raise CellError(
                "field", _("{field} cannot be given: {why}.").format(field=line.field, why=why)
            )
        figures = () if self.stock.is_new else self.stock.row.analysis_figures.all()
        figure = next((f for f in figures if f.key == key), None)
        before = in_text(figure.pct) if figure else ""
        pct = number_in(line.value, "value") if line.value else 0.0
        if not 0 <= pct <= 100:
            raise CellError("value", _("A content is from 0 to 100 percent."))
        after = in_text(pct) if pct > 0 else ""
        old_source = in_text(figure.source) if figure else ""
        source, mark = self._source_of(line, is_changed=after not in ("", before))
        if not source and figure:
            source, mark = old_source, figure.mark
        as_sourced = figure is not None and (source, mark) == (old_source, figure.mark)
        is_same = before == after and (not after or as_sourced)
        if not is_same:
            self.stock.figures.append(PlannedFigure(key, pct if after else None, source, mark))
        if source != old_source and after:
            self._note(line, _with_source(before, old_source), _with_source(after, source))
        else:
            self._note(line, before, after, differs=not is_same)

    def _read_metal(self, line: Line, metal: str) -> None:
        if metal not in METALS:
            raise CellError(
                "field",
                _("{field} cannot be given: it is no screened metal.").format(field=line.field),
            )
        figures = () if self.stock.is_new else self.stock.row.metal_figures.all()
        figure = next((f for f in figures if f.metal == metal), None)
        ppm = number_in(line.value, "value") if line.value else None
        if ppm is not None and not 0 <= ppm <= _MOST_PPM:
            raise CellError("value", _("A metal is from 0 to 1,000,000 ppm."))
        before = in_text(figure.ppm) if figure else ""
        source, mark = self._source_of(line, is_changed=ppm is not None and in_text(ppm) != before)
        measured_on = day_in(line.effective_from, "effective_from") if line.effective_from else None
        if figure and not source:
            source, mark = figure.source, figure.mark
            measured_on = measured_on or figure.measured_on
        planned = PlannedMetal(metal, ppm, source, mark, measured_on)
        old = _metal_text(before, figure.source, figure.measured_on) if figure else ""
        new = _metal_text(in_text(ppm), source, measured_on) if ppm is not None else ""
        differs = old != new or (figure is not None and ppm is not None and figure.mark != mark)
        if differs:
            self.stock.metals.append(planned)
        self._note(line, old, new, differs=differs)

    def _read_cost(self, line: Line) -> None:
        amount, unit = amount_in(line.value), unit_of_cost(line.unit)
        if not line.effective_from:
            raise CellError("effective_from", _("A cost needs the day it holds from."))
        day = day_in(line.effective_from, "effective_from")
        entry = None if self.stock.is_new else self.stock.row.cost_on(day)
        is_same = entry is not None and (entry.amount, entry.unit, entry.effective_from) == (
            amount,
            unit,
            day,
        )
        if not is_same:
            self.stock.costs.append(PlannedCost(amount, unit, day, line.source))
        old = "" if entry is None else _cost_text(entry.amount, entry.unit, entry.effective_from)
        self._note(line, old, _cost_text(amount, unit, day))

    def _source_of(self, line: Line, *, is_changed: bool) -> tuple[str, str]:
        """A figure without a source is a rumour: whoever changes one names where it comes from."""
        if not line.source:
            if is_changed:
                raise CellError("source", _("A new or changed figure needs its source."))
            return "", ""
        return line.source, known_mark(line.mark)

    def _note(self, line: Line, old: str, new: str, *, differs: bool = False) -> None:
        if old == new and not differs:
            outcome = Outcome.UNCHANGED
        else:
            outcome = Outcome.CHANGED if old else Outcome.NEW
        self.changes.append(Change(line.number, self.code, line.field, outcome, old, new))

    def _check_stock(self, lines: list[Line]) -> None:
        """The same rules as the back office, each problem at the line it comes from."""
        line_of = {line.field: line.number for line in lines}
        missing = [name for name in NEEDED_WHEN_NEW if name not in line_of]
        if self.stock.is_new and missing:
            why = f"{self.code} is new and needs a line for {' and '.join(missing)} as well."
            self.errors.append(LineError(lines[0].number, "field", why))
            return
        for name, message in stock_problems(self.stock.row, self.stock.analysis()).items():
            number = line_of.get(name, lines[0].number)
            column = "value" if name in line_of else "field"
            self.errors.append(
                LineError(number, column, f"{self.code}, {name.replace('_', ' ')}: {message}")
            )


def _with_source(value: str, source: str) -> str:
    return f"{value} (source: {source})" if source else value


def _metal_text(ppm: str, source: str, measured_on: date | None) -> str:
    dated = f", {measured_on.isoformat()}" if measured_on else ""
    return f"{ppm} ppm (source: {source}{dated})"


def _cost_text(amount: Decimal, unit: str, day: date) -> str:
    return f"{amount.normalize():f} per {unit} from {day.isoformat()}"
