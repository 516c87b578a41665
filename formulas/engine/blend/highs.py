"""The only door to HiGHS: one quiet, single-threaded solver held for one question.

What is minimised, and the sign of the duals, stands in ``programs``.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from enum import StrEnum
from typing import Final, Protocol, cast
from weakref import finalize

import highspy
import numpy as np
from highspy.highs import HighsCallbackEvent

from formulas.engine.blend.programs import (
    FEASIBILITY_TOLERANCE,
    Floats,
    Indices,
    Limits,
    Mask,
    Optimum,
    Program,
    SparseRows,
    compressed,
    refuse_nan,
    refuse_not_finite,
)
from formulas.engine.result import EngineFailure
from formulas.engine.work.effort import is_late, is_spent, refuse, spend

#: One thread: a second value in the same process makes HiGHS fail, and results stay identical
#: on every machine. ``random_seed`` for the same reason.
OPTIONS: Final[Mapping[str, bool | int | float | str]] = {
    "threads": 1,
    "random_seed": 0,
    # Steps and nodes, never seconds: the same question ends the same way on every machine.
    "simplex_iteration_limit": 100_000,
    "presolve": "off",  # our models are small; without it every restart is warm (but see MIP)
    "primal_feasibility_tolerance": FEASIBILITY_TOLERANCE,
    "dual_feasibility_tolerance": FEASIBILITY_TOLERANCE,
    "mip_feasibility_tolerance": FEASIBILITY_TOLERANCE,
    "small_matrix_value": 1e-12,  # a trace nutrient in a division of a fine scale
    "mip_rel_gap": 0.0,
    "mip_abs_gap": 1e-9,
}
#: A search over yes/no columns starts afresh each time; presolve makes it three times faster.
#: Ours take tens of nodes; one that ends at the limit answers with the best by then.
MIP_OPTIONS: Final[Mapping[str, bool | int | float | str]] = {
    "presolve": "choose",
    "mip_max_nodes": 10_000,
}

#: Units of ``effort`` for each row and column: of one linear program, of one of its steps by the
#: simplex, of one by interior point.
_PROGRAM_UNITS: Final = 0.5
_STEP_UNITS: Final = 0.01
_INSIDE_UNITS: Final = 0.2

#: How ``passModel`` is told of rows one after the other and of the least as the best.
_ROWWISE: Final = int(highspy.MatrixFormat.kRowwise)
_MINIMIZE: Final = int(highspy.ObjSense.kMinimize)
#: What HiGHS calls an answer that keeps every limit, as ``getInfo`` states it.
_FEASIBLE: Final = int(highspy.SolutionStatus.kSolutionStatusFeasible)


class Outcome(StrEnum):
    """The only two answers a solver may give us; all else raises ``EngineFailure``."""

    OPTIMAL = "optimal"
    INFEASIBLE = "infeasible"


_STATUS = highspy.HighsModelStatus
#: Every member of ``HighsModelStatus``: an outcome, or the sentence of the failure. Shares are
#: bounded by 0 and 1, so "unbounded or infeasible" can only mean infeasible.
STATUS_MEANING: Final[Mapping[highspy.HighsModelStatus, Outcome | str]] = {
    _STATUS.kOptimal: Outcome.OPTIMAL,
    _STATUS.kInfeasible: Outcome.INFEASIBLE,
    _STATUS.kUnboundedOrInfeasible: Outcome.INFEASIBLE,
    _STATUS.kUnbounded: "the solver calls the cost unbounded, which shares cannot be",
    _STATUS.kNotset: "the solver did not run",
    _STATUS.kLoadError: "the solver could not load the model",
    _STATUS.kModelError: "the solver refused the model",
    _STATUS.kPresolveError: "the solver failed while simplifying the model",
    _STATUS.kSolveError: "the solver failed while solving",
    _STATUS.kPostsolveError: "the solver failed while restoring the answer",
    _STATUS.kModelEmpty: "the model is empty",
    _STATUS.kObjectiveBound: "the solver stopped at an objective bound",
    _STATUS.kObjectiveTarget: "the solver stopped at an objective target",
    _STATUS.kTimeLimit: "the solver ran out of time",
    _STATUS.kIterationLimit: "the solver ran out of iterations",
    _STATUS.kUnknown: "the solver does not know its own status",
    _STATUS.kSolutionLimit: "the solver ran out of nodes",
    _STATUS.kInterrupt: "the solver was interrupted",
    _STATUS.__members__["kHighsInterrupt"]: "the solver was interrupted",
    _STATUS.kMemoryLimit: "the solver ran out of memory",
}
_ERROR: Final = highspy.HighsStatus.kError
_OPTIMAL: Final = _STATUS.kOptimal
_INFEASIBLE: Final = _STATUS.kInfeasible
_UNKNOWN: Final = _STATUS.kUnknown
_INTERRUPTED: Final = frozenset({_STATUS.kInterrupt, _STATUS.__members__["kHighsInterrupt"]})
#: Ends that say nothing of the answer, only that it takes more work than it may.
_OUT_OF_WORK: Final = _INTERRUPTED | {
    _STATUS.kTimeLimit,
    _STATUS.kIterationLimit,
    _STATUS.kSolutionLimit,
}


class QuietHighs(highspy.Highs):
    """HiGHS that never writes to standard output, not even its banner at construction."""

    def enableCallbacks(self) -> None:  # noqa: N802 - overrides the library's name
        self.setOptionValue("output_flag", False)  # noqa: FBT003 - the library's signature
        super().enableCallbacks()  # type: ignore[no-untyped-call] # highspy has none


class _LeftOut(Protocol):
    """What the solver has and the types of its wrapper leave out."""

    def changeRowsBounds(  # noqa: N802 - the library's name
        self, count: int, rows: Indices, lower: Floats, upper: Floats
    ) -> highspy.HighsStatus: ...

    def getBasicVariables(self) -> tuple[highspy.HighsStatus, Indices]:  # noqa: N802
        ...

    def getDualRay(self) -> tuple[highspy.HighsStatus, bool, Floats]:  # noqa: N802
        ...


def outcome_of(status: highspy.HighsModelStatus) -> Outcome:
    """Optimal or infeasible; raises ``TooLarge`` or ``EngineFailure`` for every other status."""
    if status == _OPTIMAL:  # asked first: looking a status up takes longer than a small step
        return Outcome.OPTIMAL
    if status == _INFEASIBLE:
        return Outcome.INFEASIBLE
    if status in _OUT_OF_WORK:
        refuse()
    meaning = STATUS_MEANING.get(status, f"the solver returned the unknown status {status}")
    if isinstance(meaning, Outcome):
        return meaning
    raise EngineFailure(f"No trustworthy answer: {meaning}.")


def set_options(solver: highspy.Highs, options: Mapping[str, bool | int | float | str]) -> None:
    """Set every option; HiGHS only *returns* an error for a wrong one, so raise it here."""
    for name, value in options.items():
        if solver.setOptionValue(name, value) != highspy.HighsStatus.kOk:
            raise EngineFailure(f"The solver refused the option {name} = {value!r}.")


#: Solvers of sessions that are over: making one takes a third of a small program's time. Taking
#: from and adding to a list is safe between threads.
_IDLE: Final[list[highspy.Highs]] = []
_MOST_IDLE: Final = 8


def _serve_again(solver: highspy.Highs) -> None:
    if len(_IDLE) < _MOST_IDLE:
        _IDLE.append(solver)


def _idle_solver() -> highspy.Highs:
    """A solver of the usual options, used before or not; a model passed to it is its only one."""
    try:
        return _IDLE.pop()
    except IndexError:
        solver = QuietHighs()  # type: ignore[no-untyped-call] # highspy has no types
        set_options(solver, OPTIONS)
        return solver


class Session:
    """One HiGHS object with one model, changed in place and restarted warm."""

    def __init__(self, program: Program) -> None:
        self._status = _STATUS.kNotset
        self._is_from_inside = False
        matrix = program.A if isinstance(program.A, SparseRows) else compressed(program.A)
        rows, columns = len(program.limits.row_lower), len(program.cost)
        # HiGHS accepts a NaN cost and calls the result optimal.
        refuse_not_finite(program.cost, "objective")
        refuse_not_finite(matrix.value, "matrix")
        refuse_nan(program.limits)
        self.is_mip = bool(program.integer.any())
        self._solver = _idle_solver()
        if self.is_mip:
            set_options(self._solver, MIP_OPTIONS)
        limits = program.limits
        accepted = self._solver.passModel(
            columns, rows, len(matrix.value), _ROWWISE, _MINIMIZE, 0.0, program.cost,
            limits.col_lower, limits.col_upper, limits.row_lower, limits.row_upper,
            matrix.start, matrix.column, matrix.value, program.integer.astype(np.int32),
        )  # fmt: skip
        _accept(accepted, "the model")
        self._columns = np.arange(columns, dtype=np.int32)
        self._rows = np.arange(rows, dtype=np.int32)
        self._size = rows + columns
        if self.is_mip:
            self._solver.cbMipInterrupt.subscribe(_end_when_spent, self._size)
        else:  # one that searched over whole numbers would still be asked whether it may end
            finalize(self, _serve_again, self._solver).atexit = False

    @property
    def _rest(self) -> _LeftOut:
        return cast("_LeftOut", self._solver)

    def set_cost(self, cost: Floats) -> None:
        """Replace the whole objective; raises ``EngineFailure`` if it is not finite."""
        refuse_not_finite(cost, "objective")
        _accept(self._solver.changeColsCost(len(cost), self._columns, cost), "the objective")

    def set_limits(self, limits: Limits) -> None:
        """Replace all limits of rows and columns; raises ``EngineFailure`` for a NaN."""
        refuse_nan(limits)
        _accept(
            self._rest.changeRowsBounds(
                len(self._rows), self._rows, limits.row_lower, limits.row_upper
            ),
            "the rows' limits",
        )
        _accept(
            self._solver.changeColsBounds(
                len(self._columns), self._columns, limits.col_lower, limits.col_upper
            ),
            "the columns' limits",
        )

    def set_column_limits(self, columns: Indices, lower: Floats, upper: Floats) -> None:
        """Replace the limits of some columns only."""
        found = self._solver.changeColsBounds(len(columns), columns, lower, upper)
        _accept(found, "the columns' limits")

    def set_row(self, row: int, coefficients: Floats) -> None:
        """Replace the coefficients of one row, shape (n,)."""
        refuse_not_finite(coefficients, "row")
        for column, value in enumerate(coefficients):
            _accept(self._solver.changeCoeff(row, column, float(value)), "a coefficient")

    def run(self) -> Optimum | None:
        """The optimum, or None when infeasible; raises ``EngineFailure`` for all else.

        A search over whole numbers that ends at its limit of nodes answers with the best by then
        and its ``gap``.
        """
        self._run()
        return self._answer()

    def run_within(self, most_steps: int) -> Optimum | None:
        """``run`` of a program that has an answer; None where it takes more simplex steps."""
        set_options(self._solver, {"simplex_iteration_limit": most_steps})
        try:
            self._run()
            if self._status == _STATUS.kIterationLimit:
                return None
            return self._answer()
        finally:
            usual = {"simplex_iteration_limit": OPTIONS["simplex_iteration_limit"]}
            set_options(self._solver, usual)

    def run_within_nodes(self, most_nodes: int, enough_gap: float = 0.0) -> Optimum | None:
        """``run`` of a search over whole numbers that ends after so many nodes, or near enough.

        None where there is no answer by then, which proves nothing.
        """
        set_options(self._solver, {"mip_max_nodes": most_nodes, "mip_rel_gap": enough_gap})
        try:
            self._run()
            return None if self._is_ended and not self._has_some else self._answer()
        finally:
            usual = {
                "mip_max_nodes": MIP_OPTIONS["mip_max_nodes"],
                "mip_rel_gap": OPTIONS["mip_rel_gap"],
            }
            set_options(self._solver, usual)

    def run_for_best(self) -> Optimum | None:
        """``run``, but a search over whole numbers that ends for its work answers as well.

        With the best by then and its ``gap``; raises ``TooLarge`` where there is none.
        """
        self._solve()
        is_ended = self._status in _INTERRUPTED
        if not self.is_mip or not is_ended or not self._has_some or is_late():
            self._count()
        return self._answer()

    def _run(self) -> None:
        """Run and count the work; raises ``TooLarge`` when it was too much.

        A search over whole numbers counts its own while it runs, and ends by it.
        """
        self._solve()
        self._count()

    def _solve(self) -> None:
        ran = self._solver.run()
        self._status = self._solver.getModelStatus()
        if not self.is_mip and (ran == _ERROR or self._status == _UNKNOWN):
            # Where it went on from was not where it can end from: once more from nothing.
            _accept(self._solver.clearSolver(), "to begin afresh")
            set_options(self._solver, {"presolve": "on"})
            try:
                _accept(self._solver.run(), "the run")
                self._status = self._solver.getModelStatus()
            finally:
                set_options(self._solver, {"presolve": OPTIONS["presolve"]})
        else:
            _accept(ran, "the run")

    def _count(self) -> None:
        if not self.is_mip:
            steps = _STEP_UNITS * max(0, self._told("simplex_iteration_count"))
            if self._is_from_inside:
                steps += _INSIDE_UNITS * max(0, self._told("ipm_iteration_count"))
            spend(self._size * (_PROGRAM_UNITS + steps))
        elif self._status in _INTERRUPTED:
            refuse()

    def _told(self, figure: str) -> float:
        """One figure of the last run; all of them at once take as long as a step."""
        status, value = self._solver.getInfoValue(figure)
        _accept(status, "to tell of its run")
        return float(value)

    @property
    def _is_ended(self) -> bool:
        """Whether a search over whole numbers ended before it was done."""
        return self._status == _STATUS.kSolutionLimit or self._status in _INTERRUPTED

    @property
    def _has_some(self) -> bool:
        return bool(self._told("primal_solution_status") == _FEASIBLE)

    @property
    def steps(self) -> int:
        """Simplex steps of the last linear program."""
        return int(self._told("simplex_iteration_count"))

    def _answer(self) -> Optimum | None:
        has_some = self.is_mip and self._is_ended and self._has_some
        if not has_some and outcome_of(self._status) is Outcome.INFEASIBLE:
            return None
        objective = self._told("objective_function_value")
        if not math.isfinite(objective):
            raise EngineFailure("The solver's objective is not finite.")
        solution = self._solver.getSolution()
        return Optimum(
            objective=objective,
            x=np.array(solution.col_value),
            row_dual=np.array(solution.row_dual),
            col_dual=np.array(solution.col_dual),
            gap=max(0.0, self._told("mip_gap")) if has_some else 0.0,
        )

    def begin_with(self, x: Floats) -> None:
        """Give the next search over whole numbers an answer (n,) that keeps all limits."""
        known = highspy.HighsSolution()
        known.col_value = x.tolist()
        _accept(self._solver.setSolution(known), "an answer to begin with")

    def run_from_inside(self) -> Optimum | None:
        """``run`` by interior point and crossover; what runs later starts from its basis.

        Twice to four times as fast as the simplex from nothing at thousands of columns.
        """
        set_options(self._solver, {"solver": "ipm"})
        self._is_from_inside = True
        try:
            return self.run()
        finally:
            self._is_from_inside = False
            set_options(self._solver, {"solver": "choose"})

    def ray(self) -> Floats | None:
        """Multipliers of the rows (m,) that prove the last LP infeasible; None if not at hand.

        Their sign is such that they stand for lower limits where positive.
        """
        status, is_there, ray = self._rest.getDualRay()
        _accept(status, "the ray")
        return np.asarray(ray) if is_there else None

    def nonbasic(self) -> tuple[Mask, Mask]:
        """Which rows and columns sit at a limit in the last LP basis."""
        status, basic = self._rest.getBasicVariables()
        _accept(status, "the basis")
        basic = np.asarray(basic)
        # Columns are counted from 0, rows from -1 downward.
        rows = np.ones(len(self._rows), dtype=bool)
        columns = np.ones(len(self._columns), dtype=bool)
        rows[-1 - basic[basic < 0]] = False
        columns[basic[basic >= 0]] = False
        return rows, columns

    def cost_ranging(self) -> tuple[Floats, Floats]:
        """Lowest and highest objective coefficient of each column that keeps the basis.

        LP only. Infinite where no change of the coefficient in that direction matters.
        """
        status, ranging = self._solver.getRanging()
        _accept(status, "the ranging")
        return np.array(ranging.col_cost_dn.value_), np.array(ranging.col_cost_up.value_)


def _end_when_spent(check: HighsCallbackEvent) -> None:
    """Called by a search over whole numbers where it may end; its data is the program's size."""
    if is_spent(float(check.user_data or 0.0)):
        check.interrupt()


def _accept(status: highspy.HighsStatus, what: str) -> None:
    if status == _ERROR:
        raise EngineFailure(f"The solver refused {what}.")
