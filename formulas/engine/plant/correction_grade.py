"""The best grade an incurable tank can honestly be sold as, always rounded down.

In the order of a label (total nitrogen, phosphate, potash, the slow share, then everything else)
each promise gets the largest *printable* figure, at most what was promised, that some addition
can hold together with the figures already given: a search by halving over figures, one small
program each, whole scale steps included, so the result is lexicographically the largest. No
figure is rounded up; what falls below its label minimum is not guaranteed at all.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from formulas.engine.composition import OTHER_INGREDIENTS, WISH_KEYS
from formulas.engine.label.grade_rules import GradeRule, grade_rule
from formulas.engine.label.nitrogen_lines import nitrogen_lines
from formulas.engine.label.printed_figures import digits, floored, read, step, text
from formulas.engine.label.rules import (
    FORM_DECIMALS,
    MINIMUMS,
    OTHER_DECIMALS,
    PRIMARY,
    SLOW_SHARE_PCT,
    Kind,
)
from formulas.engine.plant.correction_program import Guard, least_steps, wish_guards
from formulas.engine.plant.correction_tank import Corrected, Tank
from formulas.engine.problem import NutrientWish, SlowReleaseWish
from formulas.engine.wishes import WishId

#: Whole percents: a share of nitrogen is claimed no finer here.
_SLOW_DECIMALS = 0


@dataclass(frozen=True, slots=True)
class BestGrade:
    """What may be guaranteed, percent by weight, and the (maybe empty) additions that hold it.

    ``slow_release_pct`` is None where no share was promised or none can be claimed;
    ``above`` are wished maxima that this tank exceeds.
    """

    grade: str
    guarantees: Mapping[str, Decimal]
    slow_release_pct: Decimal | None
    above: tuple[WishId, ...]
    tank: Corrected


def best_grade(tank: Tank, kind: Kind, jurisdiction: str | None) -> BestGrade | None:
    """The best grade, None if the tank breaks a rule or a stock's limit whatever is added."""
    if tank.rows.already_broken or not _holds(tank, ()):
        return None
    rule = grade_rule(jurisdiction)
    kept, above = _maxima(tank)
    promised = {
        wish.nutrient: wish.min_pct for wish in tank.promise.wishes if wish.min_pct is not None
    }
    slow = None if tank.promise.slow_release is None else tank.promise.slow_release.min_pct
    guarantees: dict[str, Decimal] = {}
    slow_figure: Decimal | None = None
    for key in (*PRIMARY, None, *(key for key in WISH_KEYS if key not in PRIMARY)):
        if key is None:
            if slow is None:
                continue
            options = [((_slow_guard(tank, pct)), pct) for pct in _slow_figures(slow)]
        elif key in promised:
            options = [
                (_guard(tank, key, pct), pct) for pct in _figures(key, promised[key], rule, kind)
            ]
        else:
            continue
        guard, figure = _largest(tank, kept, options)
        if guard is None or figure is None:
            continue
        kept = (*kept, guard)
        if key is None:
            slow_figure = figure
        else:
            guarantees[key] = figure
    made = tank.corrected(kept)
    _carry(guarantees, made, rule, kind)
    return BestGrade(
        grade="-".join(text(guarantees.get(key, Decimal(0))) for key in PRIMARY),
        guarantees=guarantees,
        slow_release_pct=slow_figure,
        above=above,
        tank=made,
    )


def _carry(guarantees: dict[str, Decimal], made: Corrected, rule: GradeRule, kind: Kind) -> None:
    """Total nitrogen is at most what the forms of this tank carry on a label."""
    if "N" not in guarantees:
        return
    wished = {key: float(pct) for key, pct in guarantees.items()}
    total = digits(nitrogen_lines(made.analysis, rule, kind, promised=wished).total)
    if total > 0:
        guarantees["N"] = min(total, guarantees["N"])
    else:
        del guarantees["N"]


def _holds(tank: Tank, guards: Sequence[Guard]) -> bool:
    return least_steps(tank.rows, guards, tank.cost) is not None


def _maxima(tank: Tank) -> tuple[tuple[Guard, ...], tuple[WishId, ...]]:
    """Wished maxima that can hold together, in the order wished, and the others."""
    kept: tuple[Guard, ...] = ()
    above: list[WishId] = []
    for guard in tank.guards:
        if not guard.limit.at_least:
            if _holds(tank, (*kept, guard)):
                kept = (*kept, guard)
            else:
                above.append(guard.limit)
    return kept, tuple(above)


def _largest(
    tank: Tank, kept: tuple[Guard, ...], options: Sequence[tuple[Guard, Decimal]]
) -> tuple[Guard | None, Decimal | None]:
    """The first option (they fall) that holds beside what is kept; a smaller one always would."""
    low, high = 0, len(options)
    if options and _holds(tank, (*kept, options[0][0])):
        return options[0]
    low = 1
    while low < high:
        middle = (low + high) // 2
        if _holds(tank, (*kept, options[middle][0])):
            high = middle
        else:
            low = middle + 1
    return options[low] if low < len(options) else (None, None)


def _guard(tank: Tank, key: str, pct: Decimal) -> Guard:
    wish = NutrientWish(key, min_pct=float(pct))
    return next(wish_guards(tank.rows.all_stocks, (wish,), None))


def _slow_guard(tank: Tank, pct: Decimal) -> Guard:
    return next(wish_guards(tank.rows.all_stocks, (), SlowReleaseWish(min_pct=float(pct))))


def _slow_figures(promised: float) -> Iterator[Decimal]:
    yield from _falling(promised, _SLOW_DECIMALS, float(SLOW_SHARE_PCT))


def _figures(key: str, promised: float, rule: GradeRule, kind: Kind) -> Iterator[Decimal]:
    """Printable figures from the promise downwards."""
    if key in PRIMARY:
        yield from _falling(promised, rule.decimals(promised, kind), 1.0)
        yield from _falling(min(promised, 0.999999), rule.decimals(0.5, kind), 0.0)
    elif key in MINIMUMS:
        yield from _falling(promised, MINIMUMS[key].decimals, MINIMUMS[key].pct)
    elif key in OTHER_INGREDIENTS:
        yield from _falling(promised, OTHER_DECIMALS[key], 0.0)
    else:
        yield from _falling(promised, FORM_DECIMALS, 0.0)


def _falling(promised: float, decimals: int, least: float) -> Iterator[Decimal]:
    """Figures with so many decimals from ``promised`` rounded down to ``least``, none zero."""
    figure = floored(read(promised), decimals)
    while figure > 0 and figure >= read(least):
        yield digits(figure)
        figure -= step(decimals)
