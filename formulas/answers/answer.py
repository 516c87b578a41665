"""The answer of a formulation: one typed value for page, API, command, papers and saved blends.

Its JSON is its serialisation (``contract_json``): same names, same order. Physical figures are
rounded to six places where the answer is made (``formulas.contracts.formulation_answer``), money
is dollars as Decimal. Percent by weight, pounds, US gallons.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import TYPE_CHECKING, Any, ClassVar, Self, cast

from blendshop.snapshot import Snapshot
from formulas.answers.margin import MarginKept, MarginMissed
from formulas.answers.wish import Wish
from formulas.engine.label.grade import grade_of
from formulas.engine.result import Severity
from formulas.wording.severities import severity_word

if TYPE_CHECKING:
    from _typeshed import DataclassInstance


@dataclass(frozen=True, slots=True, kw_only=True)
class RecipeLine(Snapshot):
    """One stock of a recipe; ``cost`` to the cent (the lines add up), None for who sees none."""

    code: str
    name: str
    pct: float
    lb: float
    gal: float
    cost: Decimal | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Totals(Snapshot):
    """The whole of it; costs are None for those who see none."""

    mass_lb: float
    volume_gal: float
    density_lb_per_gal: float
    cost: Decimal | None
    cost_per_lb: Decimal | None
    cost_per_gal: Decimal | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Notice(Snapshot):
    """Something a person must know."""

    code: str
    severity: Severity
    message: str
    source: str

    @property
    def word(self) -> str:
        """The severity in a word, to stand beside its colour."""
        return severity_word(self.severity)


@dataclass(frozen=True, slots=True, kw_only=True)
class WishCost(Snapshot):
    """Dollars per lb of blend for one more unit of a wish.

    Here and below ``wish`` is in words, ``field`` the path of its figure in the request, None
    where it has none there.
    """

    wish: str
    field: str | None
    cost_per_unit: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class WishStep(Snapshot):
    """A wish moved by ``step`` (in its own unit, signed) and formulated again.

    ``material_per_gal`` is by how much its printed cost per gallon differs, None unless ``status``
    is "solved"; else "out_of_reach", or "too_large" to be found out beside the answer.
    """

    wish: str
    field: str | None
    step: float
    material_per_gal: Decimal | None
    status: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftOut(Snapshot):
    """A stock that could not be used, and why."""

    code: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class WishReach(Snapshot):
    """How far one wish could go with all others kept; None if nowhere."""

    wish: str
    field: str | None
    asked: float
    best: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class RelaxedWish(Snapshot):
    """A wish moved to a figure that can be had."""

    wish: str
    field: str | None
    to: float


class BlendFigures(Snapshot):
    """What every answer with a blend in it has, and what follows from that."""

    __slots__ = ()

    recipe: tuple[RecipeLine, ...]
    totals: Totals
    analysis: Mapping[str, float]
    slow_release_pct: float | None
    warnings: tuple[Notice, ...]

    @property
    def grade(self) -> str:
        """``24-0-3``, rounded down."""
        return grade_of(self.analysis)

    def without_costs(self) -> Self:
        """The same for those who may not see costs: none is in it at all."""
        bare = replace(
            cast("DataclassInstance", self),
            recipe=tuple(replace(line, cost=None) for line in self.recipe),
            totals=replace(self.totals, cost=None, cost_per_lb=None, cost_per_gal=None),
        )
        return cast("Self", bare)

    @property
    def is_stopped(self) -> bool:
        """Whether a rule forbids it; it may be looked at, never saved."""
        return bool(self.stops)

    @property
    def stock_names(self) -> tuple[str, ...]:
        """The stocks by name, in an order that says nothing of their shares."""
        return tuple(sorted({line.name for line in self.recipe}))

    @property
    def shares_pct(self) -> dict[str, float]:
        """Percent by weight of each stock by its code."""
        return {line.code: line.pct for line in self.recipe}

    @property
    def alerts(self) -> tuple[Notice, ...]:
        """What must be read before anything else."""
        return tuple(notice for notice in self.warnings if notice.severity != "info")

    @property
    def notes(self) -> tuple[Notice, ...]:
        """What is good to know."""
        return tuple(notice for notice in self.warnings if notice.severity == "info")

    @property
    def stops(self) -> tuple[str, ...]:
        """Why it must not be mixed, in sentences; empty if it may be."""
        return tuple(each.message for each in self.warnings if each.severity == "stop")

    @property
    def needs_jar_test(self) -> bool:
        """Whether two of its stocks meet only after a jar test."""
        return any(notice.code == "jar_test" for notice in self.warnings)


def _from_version_1(answer: Mapping[str, Any]) -> Mapping[str, Any]:
    """Version 1 knew wishes only by their words."""
    costs = [{"field": None, **item} for item in answer.get("sensitivity") or ()]
    return {
        **answer,
        "sensitivity": costs,
        "warnings": answer.get("warnings") or [],
        "left_out": answer.get("left_out") or [],
    }


@dataclass(frozen=True, slots=True, kw_only=True)
class SolvedAnswer(BlendFigures):
    """A blend that meets every wish."""

    VERSION = 2
    UPGRADES: ClassVar[Mapping[int, Callable[[Mapping[str, Any]], Mapping[str, Any]]]] = {
        1: _from_version_1
    }
    OMITTED = frozenset({"wish_costs", "margin"})

    status: str = "solved"
    recipe: tuple[RecipeLine, ...]
    totals: Totals
    analysis: Mapping[str, float]
    slow_release_pct: float | None
    warnings: tuple[Notice, ...]
    sensitivity: tuple[WishCost, ...]
    left_out: tuple[LeftOut, ...]
    wish_costs: tuple[WishStep, ...] = ()
    margin: MarginKept | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class AlternativeAnswer(BlendFigures):
    """A blend that can be had instead; ``request`` asks for exactly it."""

    relaxed: tuple[RelaxedWish, ...]
    recipe: tuple[RecipeLine, ...]
    totals: Totals
    analysis: Mapping[str, float]
    slow_release_pct: float | None
    warnings: tuple[Notice, ...]
    request: Wish


@dataclass(frozen=True, slots=True, kw_only=True)
class Infeasibility(Snapshot):
    """Why there is no blend, and what instead.

    ``conflict`` is a smallest set of limits that cannot hold together, in words;
    ``conflict_fields`` are their paths in the request, in the same order. ``not_explained`` says
    in a sentence why there is none of this, where finding it takes too much work.
    """

    OMITTED = frozenset({"not_explained"})

    conflict: tuple[str, ...]
    conflict_fields: tuple[str | None, ...]
    reach: tuple[WishReach, ...]
    alternatives: tuple[AlternativeAnswer, ...]
    not_explained: str | None = None

    @property
    def conflicting(self) -> Iterator[tuple[str, str | None]]:
        """Each conflicting limit in words, with its path."""
        return zip(self.conflict, self.conflict_fields, strict=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class OutOfReachAnswer(Snapshot):
    """No blend meets every wish; the keys of a blend are there and empty."""

    OMITTED = frozenset({"margin"})

    status: str = "out_of_reach"
    recipe: tuple[RecipeLine, ...] = ()
    totals: Totals | None = None
    analysis: Mapping[str, float]
    slow_release_pct: float | None = None
    sensitivity: tuple[WishCost, ...] = ()
    warnings: tuple[Notice, ...] = ()
    left_out: tuple[LeftOut, ...]
    out_of_reach: Infeasibility
    margin: MarginMissed | None = None


Answer = SolvedAnswer | OutOfReachAnswer
