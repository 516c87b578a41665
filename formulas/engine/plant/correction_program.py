"""The arrays behind a correction: what may be added to a tank that nothing can leave.

Data: weights ``w_e`` in the tank (lb, each entry with its own lot's contents), scale step
``q_i``, weight on hand ``h_i``, density ``rho``, cost ``c_i`` ($/lb). Variables: whole numbers
``k_i >= 0``, addition ``u_i = q_i k_i``; ``y_i`` is 1 if a stock new to the tank is added::

    min  sum c_i u_i                                   (or sum u_i)
    subject to  sum (A_k - G_k)(w + u) >= 0            each guaranteed minimum (<= 0 each maximum)
                sum (slow - s N)(w + u) >= 0           the slow share
                sum (w + u) / rho <= V,  sum (w + u) <= M       the tank
                u_i <= h_i                             what is on hand
                y_i + y_j <= 1,  u_i <= big y_i        new stocks that must not meet

In words: the cheapest whole scale steps that may join what is already there so that the whole
keeps every promise. A stock that must not meet what is in the tank is not on offer at all.
By hand: 500 lb of 20 % N should be 22 %; of 32 % N it takes 500 (22 - 20) / (32 - 22) = 100 lb.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from formulas.engine.blend.choices import rule_id
from formulas.engine.blend.highs import Session
from formulas.engine.blend.programs import FEASIBILITY_TOLERANCE, Floats, Limits, Mask, Program
from formulas.engine.blend.stock_table import N_COLUMN, SLOW_COLUMNS, TABLE_COLUMN, content_table
from formulas.engine.density.mixing import partial_volumes_gal_per_lb
from formulas.engine.problem import (
    CompatibilityRule,
    Effect,
    NutrientWish,
    SlowReleaseWish,
    Stock,
)
from formulas.engine.wishes import Side, WishId, WishKind

#: Where the stock on hand is left out of the question, a stock may be added so many times the tank.
_WITHOUT_END: Final = 50.0
#: A step may be missing from a weight on hand by float noise only.
_STEP_NOISE: Final = 1e-9


@dataclass(frozen=True, slots=True)
class Guard:
    """A row over tank entries and additions (lb) that must not be negative."""

    limit: WishId
    row: Floats


@dataclass(frozen=True, slots=True)
class TankRows:
    """Entries in the tank, stocks on hand, and every limit that does not depend on a wish.

    ``room`` holds (row, amount) of each capacity; ``closed`` are the on-hand stocks that must
    not meet the tank; ``apart`` are pairs of on-hand stocks new to the tank that must not meet;
    ``conditional`` are rows that hold while one such stock is added.
    """

    tank: tuple[Stock, ...]
    tank_lb: Floats
    offered: tuple[Stock, ...]
    on_hand_lb: Floats
    room: tuple[tuple[Floats, float], ...]
    standing: tuple[Guard, ...]
    closed: frozenset[int]
    apart: tuple[tuple[int, int], ...]
    conditional: tuple[tuple[int, Floats], ...]
    already_broken: tuple[CompatibilityRule, ...]

    @property
    def all_stocks(self) -> tuple[Stock, ...]:
        """Columns of every row: tank entries, then what is on hand."""
        return (*self.tank, *self.offered)

    @property
    def mass_lb(self) -> float:
        """Pounds in the tank."""
        return float(self.tank_lb.sum())


def tank_rows(
    tank: Sequence[tuple[Stock, float]],
    on_hand: Sequence[tuple[Stock, float]],
    rules: Sequence[CompatibilityRule],
    *,
    most_gal: float | None,
    most_lb: float | None,
) -> TankRows:
    """Everything about tank, stocks on hand and rules; entries of zero weight are left out."""
    entries = [(stock, weight) for stock, weight in tank if weight > 0]
    offered = tuple(stock for stock, _ in on_hand)
    inside = tuple(stock for stock, _ in entries)
    present = {stock.code for stock in inside}
    stocks = (*inside, *offered)
    tank_lb = np.array([weight for _, weight in entries], dtype=float)
    in_tank = [*(weight for _, weight in entries), *(0.0 for _ in offered)]
    # What is in the tank as it is, and what a little of each addition adds to it.
    gal_per_lb = np.array(partial_volumes_gal_per_lb(stocks, in_tank))
    room = [(gal_per_lb, most_gal), (np.ones(len(stocks)), most_lb)]
    new = {i for i, stock in enumerate(offered) if stock.code not in present}
    blocked = list(_blocked_pairs(rules, stocks))
    closed = frozenset(
        i for i in new for a, b in blocked if offered[i].code in (a, b) and {a, b} & present
    )
    position = {offered[i].code: i for i in new}
    return TankRows(
        tank=inside,
        tank_lb=tank_lb,
        offered=offered,
        on_hand_lb=np.array([weight for _, weight in on_hand], dtype=float),
        # A tank that is full beyond its mark still holds what is in it.
        room=tuple(
            (row, max(most, float(row[: len(inside)] @ tank_lb)))
            for row, most in room
            if most is not None
        ),
        standing=(*_own_limits(stocks), *_standing_limits(rules, stocks, present)),
        closed=closed,
        apart=tuple(
            sorted((position[a], position[b]) for a, b in blocked if {a, b} <= position.keys())
        ),
        conditional=tuple(_conditional_limits(rules, stocks, position)),
        already_broken=tuple(
            rule
            for rule in rules
            if any({a, b} <= present for a, b in _blocked_pairs((rule,), stocks))
        ),
    )


def wish_guards(
    stocks: Sequence[Stock],
    wishes: Sequence[NutrientWish],
    slow_release: SlowReleaseWish | None,
) -> Iterator[Guard]:
    """One row for every side of every wish, in percent times pounds."""
    table = content_table(stocks)
    for index, wish in enumerate(wishes):
        content = table[:, TABLE_COLUMN[wish.nutrient]]
        least_id, most_id = (WishId(WishKind.NUTRIENT, side, wish.nutrient, index) for side in Side)
        if wish.min_pct is not None:
            yield Guard(least_id, content - wish.min_pct)
        if wish.max_pct is not None:
            yield Guard(most_id, wish.max_pct - content)
    if slow_release is not None:
        slow, total = table[:, SLOW_COLUMNS].sum(axis=1), table[:, N_COLUMN]
        if (least := slow_release.min_pct) is not None:
            yield Guard(WishId(WishKind.SLOW_RELEASE, Side.LEAST), slow - least / 100.0 * total)
        if (most := slow_release.max_pct) is not None:
            yield Guard(WishId(WishKind.SLOW_RELEASE, Side.MOST), most / 100.0 * total - slow)


@dataclass(frozen=True, slots=True)
class Steps:
    """Steps of each stock on hand; ``gap`` is how much (relatively) cheaper is not ruled out."""

    count: Floats
    gap: float = 0.0


def least_steps(
    rows: TankRows,
    guards: Sequence[Guard],
    cost: Floats,
    *,
    keep_room: bool = True,
    keep_on_hand: bool = True,
    whole: bool = True,
) -> Steps | None:
    """Steps of each stock on hand that keep every guard at the least ``cost`` ($ per lb).

    Whole numbers unless ``whole`` is False; None if there are none. A search that ends for its
    work answers with the best by then; raises ``TooLarge`` where there is none.
    """
    n = len(rows.offered)
    if n == 0:
        return Steps(np.zeros(0)) if _holds_as_it_is(rows, guards, keep_room=keep_room) else None
    step = np.array([stock.scale_step_lb for stock in rows.offered], dtype=float)
    most_lb = rows.on_hand_lb
    if not keep_on_hand:
        most_lb = np.maximum(most_lb, _WITHOUT_END * rows.mass_lb)
    most = np.array([0.0 if i in rows.closed else most_lb[i] for i in range(n)]) / step
    if whole:
        most = np.floor(most + _STEP_NOISE)
    yes = sorted({i for pair in rows.apart for i in pair} | {i for i, _ in rows.conditional})
    table = _Table(rows, step, {i: n + position for position, i in enumerate(yes)})
    for guard in (*rows.standing, *guards):
        # In percent of the tank, so that the solver's tolerance means percentage points.
        table.at_least_zero(guard.row, per=rows.mass_lb)
    for row, amount in rows.room if keep_room else ():
        table.at_most(row, amount)
    table.choices(most)
    width = n + len(yes)
    optimum = Session(
        table.program(
            cost=np.append(cost * step, np.zeros(len(yes))),
            most=np.append(most, np.ones(len(yes))),
            integer=np.arange(width) >= (0 if whole else n),
        )
    ).run_for_best()
    if optimum is None:
        return None
    found: Floats = optimum.x[:n]
    return Steps(np.round(found) if whole else found, optimum.gap)


class _Table:
    """Rows over steps of the stocks on hand and binary columns, what is in the tank worked in."""

    def __init__(self, rows: TankRows, step: Floats, y_of: Mapping[int, int]) -> None:
        self._rows, self._step, self._y_of = rows, step, y_of
        self._width = len(step) + len(y_of)
        self._found: list[tuple[Floats, float, float]] = []

    def at_least_zero(self, row: Floats, *, per: float) -> None:
        self._found.append((self._wide(row) / per, -self._in_tank(row) / per, np.inf))

    def at_most(self, row: Floats, amount: float) -> None:
        left = 1.0 - self._in_tank(row) / amount
        self._found.append((self._wide(row) / amount, -np.inf, left))

    def choices(self, most: Floats) -> None:
        """What yes/no means, which stocks stay apart, and what holds only beside another."""
        for i, y in self._y_of.items():
            self._among({i: 1.0, y: -float(most[i])}, 0.0)
        for i, j in self._rows.apart:
            self._among({self._y_of[i]: 1.0, self._y_of[j]: 1.0}, 1.0)
        t, mass = len(self._rows.tank), self._rows.mass_lb
        for i, row in self._rows.conditional:
            # While y is 0 the row may fall as low as everything on hand can take it.
            inside = self._in_tank(row)
            lowest = min(0.0, inside + float(np.minimum(row[t:], 0.0) @ (most * self._step)))
            held = self._wide(row) / mass
            held[self._y_of[i]] = lowest / mass
            self._found.append((held, (lowest - inside) / mass, np.inf))

    def program(self, *, cost: Floats, most: Floats, integer: Mask) -> Program:
        A = np.array([row for row, _, _ in self._found]).reshape(len(self._found), self._width)
        low = np.array([low for _, low, _ in self._found], dtype=float)
        high = np.array([high for _, _, high in self._found], dtype=float)
        limits = Limits(low, high, np.zeros(self._width), most)
        return Program(cost=cost, A=A, limits=limits, integer=integer)

    def _wide(self, row: Floats) -> Floats:
        found = np.zeros(self._width)
        found[: len(self._step)] = row[len(self._rows.tank) :] * self._step
        return found

    def _in_tank(self, row: Floats) -> float:
        return float(row[: len(self._rows.tank)] @ self._rows.tank_lb)

    def _among(self, coefficients: Mapping[int, float], most: float) -> None:
        row = np.zeros(self._width)
        for column, value in coefficients.items():
            row[column] = value
        self._found.append((row, -np.inf, most))


def _holds_as_it_is(rows: TankRows, guards: Sequence[Guard], *, keep_room: bool) -> bool:
    lb = rows.tank_lb
    held = all(
        float(guard.row @ lb) / rows.mass_lb >= -FEASIBILITY_TOLERANCE
        for guard in (*rows.standing, *guards)
    )
    fits = all(float(row @ lb) <= most * (1 + FEASIBILITY_TOLERANCE) for row, most in rows.room)
    return held and (fits or not keep_room)


def _blocked_pairs(
    rules: Sequence[CompatibilityRule], stocks: Sequence[Stock]
) -> Iterator[tuple[str, str]]:
    """Codes of two different stocks that must not meet; lots of one stock are one stock."""
    for rule in rules:
        if rule.effect is Effect.BLOCKS:
            firsts = {stock.code for stock in stocks if rule.trait_a in stock.traits}
            seconds = {stock.code for stock in stocks if rule.trait_b in stock.traits}
            yield from sorted({(min(a, b), max(a, b)) for a in firsts for b in seconds if a != b})


def _own_limits(stocks: Sequence[Stock]) -> Iterator[Guard]:
    for code, most in {s.code: s.max_pct for s in stocks if s.max_pct < 100}.items():
        is_it = np.array([stock.code == code for stock in stocks], dtype=float)
        yield Guard(WishId(WishKind.OWN_LIMIT, Side.MOST, code), most - 100.0 * is_it)


def _limit_row(rule: CompatibilityRule, stocks: Sequence[Stock], code: str) -> Floats | None:
    """The rule beside the trait-b stock ``code``: what is allowed minus what is there."""
    limited = np.array(
        [rule.trait_a in stock.traits and stock.code != code for stock in stocks], dtype=float
    )
    if not limited.any():
        return None
    if rule.largest_ratio is not None:
        is_b = np.array([rule.trait_b in stock.traits for stock in stocks], dtype=float)
        allowed: Floats = rule.largest_ratio * is_b
    else:
        allowed = np.full(len(stocks), (rule.largest_pct or 0.0) / 100.0)
    row: Floats = allowed - limited
    return row


def _limits_beside(
    rules: Sequence[CompatibilityRule], stocks: Sequence[Stock]
) -> Iterator[tuple[int, str, Floats]]:
    """Position of the rule, the trait-b stock it stands beside, and its row."""
    for index, rule in enumerate(rules):
        if rule.effect is Effect.LIMIT:
            for code in sorted({s.code for s in stocks if rule.trait_b in s.traits}):
                row = _limit_row(rule, stocks, code)
                if row is not None:
                    yield index, code, row


def _standing_limits(
    rules: Sequence[CompatibilityRule], stocks: Sequence[Stock], present: set[str]
) -> Iterator[Guard]:
    for index, code, row in _limits_beside(rules, stocks):
        if code in present:
            yield Guard(rule_id(index), 100.0 * row)


def _conditional_limits(
    rules: Sequence[CompatibilityRule], stocks: Sequence[Stock], position: dict[str, int]
) -> Iterator[tuple[int, Floats]]:
    for _, code, row in _limits_beside(rules, stocks):
        if code in position:
            yield position[code], 100.0 * row
