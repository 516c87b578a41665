"""A tank load whose promises hold for every weight the scale may show as on target.

Which stocks are used is decided first: those of the recipe, or of the plain optimum. Then each
gets a weight in whole divisions of its scale and a tolerance ``max(one division, tau w)``, so
that for all weights within their tolerances *together* every minimum and maximum, the slow
share, each printed line and each rule hold (``boxes`` is the exact check). Where the recipe has
no such room, the weights move to where there is, at the least cost per gallon.

The volume: the least that the boxes can hold is at least what is asked, and the most is within
the tank. Where both cannot be had (a full tank), the least may be one gallon short; what cannot
be had even then is said by the finding ``above_capacity``. One gallon is what a load may be
short of its packages without a person seeing it in them; overfilling is worse.

``tau`` is the wanted tolerance or, where the wish leaves less room, the largest there is room
for, down to one division a step. Stocks outside the recipe come in only where its own stocks
have no room at all.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from formulas.engine.blend.evaluate import evaluate
from formulas.engine.blend.highs import Floats
from formulas.engine.blend.solving import solve
from formulas.engine.composition import (
    ANALYSIS_KEYS,
    NITROGEN_FORMS,
    SLOW_FORMS,
    content_pct,
    slow_n_pct,
)
from formulas.engine.density import ideal_density_lb_per_gal, specific_volumes_gal_per_lb
from formulas.engine.plant.boxes import Boxes
from formulas.engine.plant.guards import Guard, limit_guards
from formulas.engine.plant.load import (
    Heel,
    LoadQuestion,
    LoadStep,
    PlannedLoad,
    ScaleKind,
)
from formulas.engine.plant.not_weighable import NotWeighable
from formulas.engine.plant.room_program import (
    FEWEST_DIVISIONS,
    Weighings,
    cheapest,
    divisions_of_tolerance,
    nearest,
    pounds,
    whole,
)
from formulas.engine.problem import (
    BadProblem,
    BlendProblem,
    FieldError,
    Fill,
    Stock,
    StockLimit,
)
from formulas.engine.result import Finding, Severity, Share, Solved
from formulas.engine.validate import validate
from formulas.engine.wishes import Side, WishId, WishKind

#: Percentage points by which a promise may be missed after weighing: float noise only.
NOISE_PCT: Final = 1e-9
#: What a load may be short of the asked volume where the tank has no room for more.
SHORT_GAL: Final = 1.0
#: Tolerances are searched and stated in hundredths of a percent.
_TAU_GRID: Final = 1e-4
_ROUNDS: Final = 8


@dataclass(frozen=True, slots=True)
class _Scale:
    kind: ScaleKind
    division_lb: float
    most_lb: float


@dataclass(frozen=True, slots=True)
class _Recipe:
    """Stocks that are used and their shares of what is charged, percent."""

    stocks: tuple[Stock, ...]
    pct: Floats

    def shares(self) -> tuple[Share, ...]:
        return tuple(
            Share(stock.code, float(pct)) for stock, pct in zip(self.stocks, self.pct, strict=True)
        )


@dataclass(frozen=True, slots=True)
class _Weighed:
    """Weights that keep everything, checked."""

    boxes: Boxes
    scales: tuple[_Scale, ...]
    tau: float
    gap: float


@dataclass(frozen=True, slots=True)
class _Limits:
    """What a try asks for: volumes in the tank, and whether the label's total is aimed at."""

    least_gal: float
    most_gal: float
    aims_at_print: bool


def plan_with_room(question: LoadQuestion) -> PlannedLoad:
    """Weights and tolerances of a load, and what is sure for every weight on target.

    Raises ``BadProblem`` naming each wrong field, and ``NotWeighable`` where no whole divisions
    keep every promise with one division of room a step.
    """
    _refuse_wrong(question)
    load = _Load(question)
    plain = load.plain_recipe()
    for recipe in load.recipes(plain):
        for limits in load.limits():
            found = load.most_room(recipe, limits)
            if found is not None:
                return load.described(plain, found, limits)
    raise load.refusal(plain)


def broken_for(question: LoadQuestion, steps: Sequence[LoadStep]) -> tuple[WishId, ...]:
    """Promises that some weights inside the boxes of ``steps`` would break.

    Identities are those of ``question.promised``. Cheap: one matrix row a limit, no solving.
    """
    stock_of = {stock.code: stock for stock in question.problem.stocks}
    unknown = [step.code for step in steps if step.code not in stock_of]
    if unknown:
        raise BadProblem(
            tuple(FieldError("steps", f"There is no stock {code}.") for code in unknown)
        )
    boxes = Boxes(
        stocks=tuple(stock_of[step.code] for step in steps),
        weight_lb=np.array([step.weight_lb for step in steps]),
        tolerance_lb=np.array([step.tolerance_lb for step in steps]),
        heel=question.heel,
        density_correction=question.density_correction,
    )
    guards = _limit_guards(question.promised, boxes.stocks, question.heel)
    broken = [guard.limit for guard in guards if boxes.least(guard) < -NOISE_PCT]
    return tuple(dict.fromkeys(broken))


class _Load:
    """One question while it is answered."""

    def __init__(self, question: LoadQuestion) -> None:
        self.question = question
        self.promised = question.promised
        self.heel = question.heel
        self.wanted = question.tolerance_pct / 100.0

    # Which stocks.

    def plain_recipe(self) -> _Recipe:
        """The recipe that is given, or the plain optimum beside the heel."""
        if self.question.recipe is not None:
            pct_of = {share.code: share.pct for share in self.question.recipe if share.pct > 0}
            stocks = tuple(s for s in self.promised.stocks if s.code in pct_of)
            return _Recipe(stocks, np.array([pct_of[stock.code] for stock in stocks]))
        found = self._optimum(self.promised)
        if found is None:
            answer = solve(self._beside_heel(self.promised, 10.0))
            conflict = () if isinstance(answer, Solved) else answer.conflict
            raise NotWeighable(self.promised, conflict, None, None)
        return found

    def recipes(self, plain: _Recipe) -> Iterator[_Recipe]:
        """The recipe, then with stocks of it left out, then with others of the problem."""
        yield plain

    def _optimum(self, problem: BlendProblem) -> _Recipe | None:
        density = 10.0
        found: _Recipe | None = None
        for _ in range(3 if self.heel else 1):
            beside = self._beside_heel(problem, density)
            answer = solve(beside, explain=False)
            if not isinstance(answer, Solved):
                return None
            pct_of = {share.code: share.pct for share in answer.blend.shares}
            stocks = tuple(s for s in problem.stocks if pct_of.get(s.code, 0.0) > 0)
            if not stocks:
                return None
            pct = np.array([pct_of[stock.code] for stock in stocks])
            found = _Recipe(stocks, pct * (100.0 / pct.sum()))
            density = ideal_density_lb_per_gal({s.code: s for s in stocks}, found.shares())
        return found

    def _beside_heel(self, problem: BlendProblem, density: float) -> BlendProblem:
        """The problem over the whole tank: the heel as a stock of fixed share and no cost."""
        if self.heel is None or self.heel.mass_lb <= 0:
            return problem
        charged = (self.question.volume_gal - self.heel.volume_gal) * density
        kept = charged / (charged + self.heel.mass_lb)
        analysis = {k: v for k, v in self.heel.analysis.items() if k in ANALYSIS_KEYS}
        code = "(heel)"
        heel = Stock(code, code, 1.0, 0.0, analysis, traits=frozenset({"water"}))
        share = 100.0 * (1.0 - kept)
        return replace(
            problem,
            stocks=(
                *(
                    replace(
                        s,
                        min_pct=s.min_pct * kept,
                        max_pct=s.max_pct if s.max_pct >= 100 else s.max_pct * kept,
                    )
                    for s in problem.stocks
                ),
                heel,
            ),
            stock_limits=(
                *(
                    replace(
                        limit,
                        min_pct=None if limit.min_pct is None else limit.min_pct * kept,
                        max_pct=None if limit.max_pct is None else limit.max_pct * kept,
                    )
                    for limit in problem.stock_limits
                ),
                StockLimit(code, share, share),
            ),
            smallest_charge_pct=(
                problem.smallest_charge_pct * kept
                if problem.smallest_charge_pct * kept <= share
                else 0.0
            ),
        )

    # How much.

    def limits(self) -> Iterator[_Limits]:
        """What is tried in turn: with the label's total, then without; the brim kept, then not."""
        asked, brim = self.question.volume_gal, self.question.capacity_gal
        for aims in (True, False):
            if brim is None:
                yield _Limits(asked, np.inf, aims)
                continue
            if asked < brim:
                yield _Limits(asked, brim, aims)
            yield _Limits(asked - SHORT_GAL, brim, aims)
            yield _Limits(asked - SHORT_GAL, np.inf, aims)

    # Weights.

    def most_room(self, recipe: _Recipe, limits: _Limits) -> _Weighed | None:
        """Weights at the wanted tolerance, or at the largest there is room for."""
        found = self.weighed(recipe, limits, self.wanted)
        if found is not None or self.wanted <= 0:
            return found
        if self.weighed(recipe, limits, 0.0) is None:
            return None
        low, high = 0, math.floor(self.wanted / _TAU_GRID - 1e-9) + 1
        best: _Weighed | None = None
        while high - low > 1:
            middle = (low + high) // 2
            tried = self.weighed(recipe, limits, middle * _TAU_GRID)
            if tried is None:
                high = middle
            else:
                low, best = middle, tried
        return best or self.weighed(recipe, limits, 0.0)

    def weighed(self, recipe: _Recipe, limits: _Limits, tau: float) -> _Weighed | None:
        """Weights with room ``tau``, the label's forms and the real volume aimed at in rounds."""
        aim_n = aim_slow = short_gal = 0.0
        for _ in range(_ROUNDS):
            found = self._once(recipe, limits, tau, aim_n, aim_slow, short_gal)
            if found is None:
                return None
            short = limits.least_gal - found.boxes.least_gal()
            over = found.boxes.most_gal() - limits.most_gal
            if short > 1e-9 * limits.least_gal:
                short_gal += short * 1.5 + 1e-6
                continue
            if over > 1e-9 * limits.least_gal:
                return None
            if limits.aims_at_print:
                more_n, more_slow = self._missing_in_print(found.boxes)
                if more_n > 0 or more_slow > 0:
                    aim_n += more_n
                    aim_slow += more_slow
                    continue
            return found
        return None

    def _once(
        self,
        recipe: _Recipe,
        limits: _Limits,
        tau: float,
        aim_n: float,
        aim_slow: float,
        short_gal: float,
    ) -> _Weighed | None:
        shares = recipe.shares()
        by_code = {stock.code: stock for stock in recipe.stocks}
        standing = 0.0 if self.heel is None else self.heel.volume_gal
        gal = limits.least_gal - standing
        guards = [
            *_limit_guards(self.promised, recipe.stocks, self.heel),
            *self._print_guards(recipe.stocks, aim_n, aim_slow),
        ]
        guards, fixed = _aimed_apart(self.promised, guards)
        near: Floats | None = None
        scales: tuple[_Scale, ...] = ()
        by_cost = False
        for _ in range(3):
            volumes = specific_volumes_gal_per_lb(by_code, shares)
            v = np.array([volumes[s.code] for s in recipe.stocks])
            v = v / self.question.density_correction
            aim = recipe.pct / 100.0
            aim = aim * gal / float(aim @ v) / max(0.5, 1.0 - tau)
            scales = self._scales(recipe.stocks, aim if near is None else near, tau)
            d = np.array([scale.division_lb for scale in scales])
            load = Weighings(
                division_lb=d,
                most_lb=np.array([scale.most_lb for scale in scales]),
                guards=guards,
                fixed=[replace(guard, constant=float(d @ np.abs(guard.row))) for guard in fixed],
                cost_per_lb=np.array([s.cost_per_lb for s in recipe.stocks]),
                gal_per_lb=v,
                aim_lb=np.maximum(aim, d),
                least_gal=gal + short_gal,
                most_gal=limits.most_gal - standing,
            )
            least = cheapest(load, tau)
            if least is None:
                return None
            by_cost = least.objective >= 1.0 - 1e-9
            most_cost = max(least.objective, 1.0) + 1e-9
            found = nearest(load, tau, most_cost)
            if found is None:
                return None
            near = found.weight_lb
            mass = float(near.sum())
            shares = tuple(
                Share(s.code, 100.0 * float(w) / mass)
                for s, w in zip(recipe.stocks, near, strict=True)
            )
        assert near is not None  # noqa: S101 - the loop ran
        best = whole(load, tau, near, by_cost=by_cost)
        if best is None:
            return None
        k = np.round(best.weight_lb / d)
        m = divisions_of_tolerance(k, tau)
        boxes = Boxes(
            stocks=recipe.stocks,
            weight_lb=np.array([pounds(a, b) for a, b in zip(k, d, strict=True)]),
            tolerance_lb=np.array([pounds(a, b) for a, b in zip(m, d, strict=True)]),
            heel=self.heel,
            density_correction=self.question.density_correction,
        )
        if any(boxes.least(guard) < -NOISE_PCT for guard in guards):
            return None
        return _Weighed(boxes, scales, tau, best.gap)

    def _scales(self, stocks: Sequence[Stock], lb: Floats, tau: float) -> tuple[_Scale, ...]:
        scale = self.question.scale
        scales = []
        for stock, weight in zip(stocks, lb, strict=True):
            main = stock.scale_step_lb if scale.step_lb is None else scale.step_lb
            chosen = _Scale(ScaleKind.MAIN, main, np.inf)
            fine = scale.fine
            if fine is not None and fine.step_lb < main:
                room = max(fine.step_lb, tau * weight)
                if max(weight, FEWEST_DIVISIONS * fine.step_lb) + room <= fine.max_lb:
                    chosen = _Scale(ScaleKind.FINE, fine.step_lb, fine.max_lb)
            scales.append(chosen)
        return tuple(scales)

    # The label.

    def _wished_n(self) -> float:
        """The total nitrogen that the label prints: the largest minimum asked for."""
        return max(
            (w.min_pct for w in self.question.problem.wishes if w.nutrient == "N" and w.min_pct),
            default=0.0,
        )

    def _missing_in_print(self, boxes: Boxes) -> tuple[float, float]:
        """How much the printed forms are short of the wished total, and the slow ones of theirs."""
        if "N" in self.question.printed_pct:
            return 0.0, 0.0
        least, _ = boxes.extremes_pct()
        printed = {form: _floored(least.get(form, 0.0)) for form in NITROGEN_FORMS}
        total = sum(printed.values())
        wished_n = self._wished_n()
        missing = max(0.0, wished_n - total)
        slow_wish = self.question.problem.slow_release
        slow_missing = 0.0
        if slow_wish is not None and slow_wish.min_pct:
            of = wished_n if wished_n > 0 else total
            slow = sum(printed[form] for form in SLOW_FORMS)
            slow_missing = max(0.0, slow_wish.min_pct / 100.0 * of - slow)
        return (
            missing if missing > NOISE_PCT else 0.0,
            slow_missing if slow_missing > NOISE_PCT else 0.0,
        )

    def _print_guards(self, stocks: Sequence[Stock], aim_n: float, aim_slow: float) -> list[Guard]:
        guards = []
        wished_n = self._wished_n()
        heel_lb = 0.0 if self.heel is None else self.heel.mass_lb
        heel = {} if self.heel is None else self.heel.analysis
        if aim_n > 0:
            least = wished_n + aim_n
            row = np.array([content_pct(s.analysis, "N") - least for s in stocks])
            limit = WishId(WishKind.AIM, Side.LEAST, "N")
            guards.append(Guard(limit, row, (content_pct(heel, "N") - least) * heel_lb))
        slow_wish = self.question.problem.slow_release
        if aim_slow > 0 and slow_wish is not None and slow_wish.min_pct:
            limit = WishId(WishKind.AIM, Side.LEAST, "slow_release_pct")
            share = slow_wish.min_pct / 100.0
            if wished_n > 0:
                least = share * wished_n + aim_slow
                row = np.array([slow_n_pct(s.analysis) - least for s in stocks])
                guards.append(Guard(limit, row, (slow_n_pct(heel) - least) * heel_lb))
            else:
                row = np.array(
                    [
                        slow_n_pct(s.analysis) - share * content_pct(s.analysis, "N") - aim_slow
                        for s in stocks
                    ]
                )
                of_heel = slow_n_pct(heel) - share * content_pct(heel, "N") - aim_slow
                guards.append(Guard(limit, row, of_heel * heel_lb))
        return guards

    # The answer.

    def described(self, plain: _Recipe, found: _Weighed, limits: _Limits) -> PlannedLoad:
        boxes = found.boxes
        blend = evaluate(boxes.stocks, boxes.shares(), self.promised.rules)
        cost = float(boxes.weight_lb @ np.array([s.cost_per_lb for s in boxes.stocks]))
        volume = boxes.volume_gal()
        least, most = boxes.extremes_pct()
        slow = boxes.slow_release_extremes_pct()
        return PlannedLoad(
            steps=tuple(
                LoadStep(stock.code, float(w), float(t), scale.kind, scale.division_lb)
                for stock, w, t, scale in zip(
                    boxes.stocks, boxes.weight_lb, boxes.tolerance_lb, found.scales, strict=True
                )
            ),
            tolerance_pct=round(100.0 * found.tau, 6),
            blend=blend,
            analysis=boxes.analysis_pct(),
            slow_release_pct=boxes.slow_release_pct(),
            density_lb_per_gal=boxes.mass_lb / volume,
            net_weight_lb=boxes.mass_lb,
            volume_gal=volume,
            least_gal=boxes.least_gal(),
            least_pct=least,
            most_pct=most,
            least_slow_release_pct=None if slow is None else slow[0],
            cost=cost,
            room_cost_per_gal=max(0.0, cost / volume - self._plain_cost_per_gal(plain)),
            findings=(*blend.findings, *self._findings(found, limits)),
            gap=found.gap,
        )

    def _plain_cost_per_gal(self, plain: _Recipe) -> float:
        by_code = {stock.code: stock for stock in plain.stocks}
        density = ideal_density_lb_per_gal(by_code, plain.shares())
        charged_gal = self.question.volume_gal - (self.heel.volume_gal if self.heel else 0.0)
        per_lb = float(plain.pct @ np.array([s.cost_per_lb for s in plain.stocks])) / 100.0
        mass = charged_gal * density * self.question.density_correction
        return per_lb * mass / self.question.volume_gal

    def _findings(self, found: _Weighed, limits: _Limits) -> Iterator[Finding]:
        brim = self.question.capacity_gal
        if brim is not None and found.boxes.most_gal() > brim + 1e-9:
            yield Finding(
                "above_capacity",
                Severity.CAUTION,
                f"With every weight at its upper end the tank holds "
                f"{found.boxes.most_gal():.1f} gal, its brim is at {brim:g} gal.",
                "follows from the weights and their tolerances",
            )
        if not limits.aims_at_print and any(x > 0 for x in self._missing_in_print(found.boxes)):
            yield Finding(
                "prints_less",
                Severity.CAUTION,
                "Rounded down, the printed forms of nitrogen add up to less than the wished total.",
                "follows from the weights and their tolerances",
            )

    def refusal(self, plain: _Recipe) -> NotWeighable:
        return NotWeighable(self.promised, (), None, None)


def _refuse_wrong(question: LoadQuestion) -> None:
    validate(replace(question.promised, fill=Fill(volume_gal=1.0)))
    errors = []

    def positive(field: str, value: float | None) -> None:
        if value is not None and not (math.isfinite(value) and value > 0):
            errors.append(FieldError(field, "Must be a number above 0."))

    positive("load.volume_gal", question.volume_gal)
    positive("load.capacity_gal", question.capacity_gal)
    positive("load.scale_step_lb", question.scale.step_lb)
    positive("load.density_correction", question.density_correction)
    if question.scale.fine is not None:
        positive("load.fine_scale.step_lb", question.scale.fine.step_lb)
        positive("load.fine_scale.max_lb", question.scale.fine.max_lb)
    if not (math.isfinite(question.tolerance_pct) and 0 <= question.tolerance_pct <= 10):
        errors.append(FieldError("load.tolerance_pct", "Must be from 0 to 10 percent."))
    heel = question.heel
    if heel is not None and not heel.volume_gal < question.volume_gal:
        errors.append(
            FieldError("load.heel.volume_gal", "The heel must be less than the whole volume.")
        )
    if errors:
        raise BadProblem(tuple(errors))


def _limit_guards(problem: BlendProblem, stocks: Sequence[Stock], heel: Heel | None) -> list[Guard]:
    if heel is None:
        return limit_guards(problem, stocks)
    return limit_guards(problem, stocks, heel.mass_lb, heel.analysis)


def _aimed_apart(problem: BlendProblem, guards: Sequence[Guard]) -> tuple[list[Guard], list[Guard]]:
    """Guards to be kept with room, and those of fixed shares: no box fits between equal limits."""
    fixed = {
        limit.code
        for limit in problem.stock_limits
        if limit.min_pct is not None and limit.min_pct == limit.max_pct
    }
    kinds = (WishKind.STOCK_LIMIT, WishKind.OWN_LIMIT)
    apart = [g for g in guards if g.limit.kind in kinds and g.limit.key in fixed]
    return [g for g in guards if g not in apart], apart


def _floored(pct: float) -> float:
    """As a label prints it: two decimals, rounded down."""
    return math.floor(pct * 100.0 + 1e-7) / 100.0
