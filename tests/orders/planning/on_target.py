"""Weights drawn at random from what a plan calls on target, what they make, what papers print."""

from __future__ import annotations

import io
import random
from collections.abc import Iterator, Mapping

from pypdf import PdfReader

from formulas.engine.composition import content_pct, slow_release_pct_of_n
from formulas.engine.plant import as_made as engine
from orders.frozen.load_plan import LoadPlan, PlannedWeighing
from orders.models import Paper

#: What the engine's own figures may be off: floats only.
NOISE = 1e-7
TYPICAL = "typical"
HEEL = "heel"


def text_of(paper: Paper) -> str:
    """What a paper prints, one space between its words."""
    pages = PdfReader(io.BytesIO(bytes(paper.pdf))).pages
    return " ".join(" ".join(page.extract_text() for page in pages).split())


def drawn(plan: LoadPlan, rng: random.Random) -> list[tuple[PlannedWeighing, str, float]]:
    """Step, lot and pounds: each step anywhere in its box, the corners as often as not.

    What a step of several lots is off by, it is off by in any one of them.
    """
    found = []
    for step in plan.steps:
        off = step.tolerance_lb * rng.choice([-1.0, 1.0, rng.uniform(-1, 1)])
        parts = [(lot.code, lot.weight_lb) for lot in step.lots]
        rest = step.weight_lb - sum(lb for _, lb in parts)
        if rest > 1e-9 or not parts:
            parts.append((TYPICAL, rest))
        unlucky = rng.randrange(len(parts))
        found += [
            (step, code, lb + (off if number == unlucky else 0.0))
            for number, (code, lb) in enumerate(parts)
        ]
    return found


def made_of(plan: LoadPlan, weights: list[tuple[PlannedWeighing, str, float]]) -> engine.AsMade:
    """By the engine's as-made record, with the lots' certificates and the heel."""
    lots, charges = {}, []
    for step, code, lb in weights:
        key = f"{step.code} {code}"
        of_lot = next((lot for lot in step.lots if lot.code == code), step)
        lots[key] = engine.Lot(key, step.code, of_lot.density_lb_per_gal, of_lot.analysis)
        charges.append(engine.Charge(key, lb))
    if plan.heel is not None:
        density = plan.heel.mass_lb / plan.heel.volume_gal
        lots[HEEL] = engine.Lot(HEEL, HEEL, density, plan.heel.analysis)
        charges.append(engine.Charge(HEEL, plan.heel.mass_lb))
    return engine.as_made(charges, list(lots.values()))


def missed(plan: LoadPlan, rng: random.Random, times: int = 150) -> list[str]:
    """What some of so many draws miss; nothing of a sound plan."""
    found = []
    for _ in range(times):
        analysis = made_of(plan, drawn(plan, rng)).analysis
        found += [*_below(plan, analysis), *_above(plan, analysis)]
    return found


def _below(plan: LoadPlan, analysis: Mapping[str, float]) -> Iterator[str]:
    promise, slow = plan.promised, slow_release_pct_of_n(analysis) or 0.0
    lines = {key: float(line) for key, line in plan.printed_pct.items()}
    for told, least in (("", promise.minima_pct), ("line ", lines), ("sure ", plan.least_pct)):
        for key, pct in least.items():
            if content_pct(analysis, key) < pct - NOISE:
                yield f"{told}{key}: {content_pct(analysis, key)} below {pct}"
    if slow < (promise.slow_release_min_pct or 0.0) - NOISE:
        yield f"slow release {slow}"


def _above(plan: LoadPlan, analysis: Mapping[str, float]) -> Iterator[str]:
    promise, slow = plan.promised, slow_release_pct_of_n(analysis) or 0.0
    for key, pct in promise.maxima_pct.items():
        if content_pct(analysis, key) > pct + NOISE:
            yield f"{key}: {content_pct(analysis, key)} above {pct}"
    if promise.slow_release_max_pct and slow > promise.slow_release_max_pct + NOISE:
        yield f"slow release {slow}, too much"
