"""Weights drawn inside the boxes of a plan, and what each of them makes, worked out plainly here.

Nothing of the planner is used: pounds of each nutrient over pounds, gallons by the density model.
"""

from fractions import Fraction

import numpy as np

from formulas.engine.composition import content_pct, slow_n_pct
from formulas.engine.density.mixing import volume_gal
from formulas.engine.plant.load import ScaleKind

#: Percentage points of float noise.
NOISE = 1e-8


def draws(planned, rng, count=60):
    """Corners of the boxes, then weights anywhere in them; pounds in the order of the steps."""
    weight = np.array([step.weight_lb for step in planned.steps])
    tolerance = np.array([step.tolerance_lb for step in planned.steps])
    n = len(weight)
    for number in range(count):
        if number % 3:
            yield weight + tolerance * rng.choice([-1.0, 1.0], n)
        else:
            yield weight + tolerance * rng.uniform(-1.0, 1.0, n)


def made(question, planned, lb):
    """Content by key, slow share (None without N) and gallons of the full tank."""
    stocks = {stock.code: stock for stock in question.problem.stocks}
    parts = [
        (weight, stocks[step.code].analysis) for weight, step in zip(lb, planned.steps, strict=True)
    ]
    used = [stocks[step.code] for step in planned.steps]
    gallons = volume_gal(used, list(lb)) / question.density_correction
    if question.heel is not None:
        parts.append((question.heel.mass_lb, question.heel.analysis))
        gallons += question.heel.volume_gal
    mass = sum(weight for weight, _ in parts)

    def content(of):
        return sum(weight * of(analysis) for weight, analysis in parts) / mass

    n = content(lambda analysis: content_pct(analysis, "N"))
    slow = content(slow_n_pct)
    return (
        lambda key: content(lambda analysis: content_pct(analysis, key)),
        100.0 * slow / n if n > 0 else None,
        gallons,
    )


def misses(question, planned, lb):
    """Names of what these weights miss."""
    content, slow_share, gallons = made(question, planned, lb)
    slow = question.problem.slow_release
    bounded = [
        (wish.nutrient, content(wish.nutrient), wish.min_pct, wish.max_pct)
        for wish in question.problem.wishes
    ]
    if slow is not None and slow_share is not None:
        bounded.append(("slow share", slow_share, slow.min_pct, slow.max_pct))
    bounded += [
        (f"printed {key}", content(key), pct, None) for key, pct in question.printed_pct.items()
    ]
    bounded += [
        (f"bounds of {key}", content(key), pct, planned.most_pct[key])
        for key, pct in planned.least_pct.items()
    ]
    short = 1.0 if question.capacity_gal else 0.0
    bounded.append(("volume", gallons, question.volume_gal - short - 1e-6, None))
    bounded.append(("least gallons", gallons, planned.least_gal * (1 - 1e-9), None))
    bounded += _shares(question, planned, lb)
    return [name for name, value, low, high in bounded if _is_outside(value, low, high)]


def _is_outside(value, low, high):
    return (low is not None and value < low - NOISE) or (high is not None and value > high + NOISE)


def _shares(question, planned, lb):
    """Limits on stocks and rules, of what is charged; a fixed share is aimed at only."""
    share = {
        step.code: 100.0 * weight / float(sum(lb))
        for weight, step in zip(lb, planned.steps, strict=True)
    }
    stocks = {stock.code: stock for stock in question.problem.stocks}
    for limit in question.problem.stock_limits:
        if limit.min_pct is None or limit.min_pct != limit.max_pct:
            yield limit.code, share.get(limit.code, 0.0), limit.min_pct, limit.max_pct
    for code, pct in share.items():
        least = max(stocks[code].min_pct, question.problem.smallest_charge_pct)
        yield f"{code}'s own limit", pct, least, stocks[code].max_pct
    for rule in question.problem.rules:
        yield from _ruled(rule, share, stocks)


def _ruled(rule, share, stocks):
    """What of trait a stands beside each stock of trait b, and how much of it may."""
    of_b = [code for code in share if rule.trait_b in stocks[code].traits]
    for b in of_b:
        beside = sum(
            pct for code, pct in share.items() if code != b and rule.trait_a in stocks[code].traits
        )
        if rule.effect == "blocks":
            yield f"{rule.trait_a} meets {b}", beside, None, 0.0
        elif rule.largest_pct is not None:
            yield f"{rule.trait_a} beside {b}", beside, None, rule.largest_pct
        elif rule.largest_ratio is not None:
            most = rule.largest_ratio * sum(share[code] for code in of_b)
            yield f"{rule.trait_a} beside {b}", beside, None, most


def is_whole(amount_lb, division_lb):
    return (Fraction(str(amount_lb)) / Fraction(str(division_lb))).denominator == 1


def scale_faults(question, planned):
    """What is wrong with the weighings themselves."""
    stocks = {stock.code: stock for stock in question.problem.stocks}
    for step in planned.steps:
        main = question.scale.step_lb or stocks[step.code].scale_step_lb
        fine = question.scale.fine
        division = main if step.scale is ScaleKind.MAIN else fine.step_lb
        if division != step.division_lb:
            yield f"{step.code}: not the division of its scale"
        if not is_whole(step.weight_lb, division) or not is_whole(step.tolerance_lb, division):
            yield f"{step.code}: no whole divisions"
        if step.tolerance_lb < division:
            yield f"{step.code}: less than a division of room"
        wanted = planned.tolerance_pct / 100.0 * step.weight_lb
        if not wanted - division < step.tolerance_lb + 1e-9 <= max(wanted, division) + 2e-9:
            yield f"{step.code}: not the tolerance rounded down"
        if step.weight_lb - step.tolerance_lb <= 0:
            yield f"{step.code}: an empty scale is on target"
        if step.scale is ScaleKind.FINE and step.weight_lb + step.tolerance_lb > fine.max_lb:
            yield f"{step.code}: more than the fine scale takes"
