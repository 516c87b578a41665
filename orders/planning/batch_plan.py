"""The plan of one tank load: weights a scale can show, checks, hazards, cautions. Frozen.

Weights come from the engine's whole scale steps, never from rounding each stock by itself, and
keep every minimum the blend was promised with. The stocks' figures of this minute are copied
into the plan, so that tickets and labels are drawn from it and not from tomorrow's catalogue.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from typing import Final

from blendshop.errors import BadInput
from formulas import reference
from formulas.answers.wish import Range
from formulas.contracts.formulation_answer import PLACES
from formulas.engine import problem as engine
from formulas.engine.blend.evaluate import evaluate
from formulas.engine.composition import content_pct, with_total_n
from formulas.engine.plant.as_made_density import density_at_reference
from formulas.engine.plant.not_weighable import NotWeighable
from formulas.engine.plant.scale_weights import USUAL_TOLERANCE_PCT, ScaleReady, scale_ready
from formulas.engine.result import Blend, Finding, Share
from formulas.engine_bridge import cited, saved_rules, to_engine
from formulas.models import BaseStock, BlendRevision
from formulas.wording.weighing import not_weighable_words
from orders.frozen.load_plan import (
    DensityWindow,
    LoadPlan,
    LoadPromise,
    PlanFinding,
    PlannedWeighing,
    PlanTank,
    StockSafety,
)
from orders.models import Batch, MeasuredDensity, Tank
from orders.planning.step_figures import step_figures
from orders.planning.windows import cleanout, density_window, measured_window, ph_window

RETAINED_SAMPLE: Final = (
    "1 pint, sealed, labelled with the batch number; keep 12 months (common practice, no source)"
)
_GRADE_KEYS: Final = ("N", "P2O5", "K2O")


@dataclass(frozen=True, slots=True)
class LoadRecipe:
    """A revision's recipe on the stocks of today: rows for the paper, values for the engine."""

    revision: BlendRevision
    rows: dict[str, BaseStock]
    stocks: tuple[engine.Stock, ...]
    shares: tuple[Share, ...]
    rules: tuple[engine.CompatibilityRule, ...]


def load_recipe(revision: BlendRevision, tank: Tank, today: date) -> LoadRecipe:
    """The recipe with each stock at the coarser of its own and the tank's scale step."""
    pct = dict(revision.lines.values_list("stock__code", "pct"))
    used = BaseStock.objects.filter(code__in=pct).for_engine().with_metals()
    rows = {row.code: row for row in used}
    stocks = []
    for row in rows.values():
        cost = row.cost_on(today)
        stock = to_engine(row, cost.per_lb() if cost else Decimal(0))
        stocks.append(replace(stock, scale_step_lb=max(row.scale_step_lb, tank.scale_step_lb)))
    return LoadRecipe(
        revision=revision,
        rows=rows,
        stocks=tuple(stocks),
        shares=tuple(Share(code, share) for code, share in sorted(pct.items())),
        rules=saved_rules(),
    )


def plan_load(
    volume_gal: float, tank: Tank, recipe: LoadRecipe, previous: Batch | None
) -> LoadPlan:
    """The frozen plan of one load; BadInput in a sentence when it cannot be made or weighed."""
    blend = _makeable(recipe)
    promised, ready = _weighed(recipe, blend, volume_gal, tank)
    revision = recipe.revision
    findings = (*_catalogue_notes(recipe), *map(_finding, ready.blend.findings))
    reference_name = f"{revision.blend.name} r{revision.number}"
    traits = frozenset(trait for stock in recipe.stocks for trait in stock.traits)
    return LoadPlan(
        product_name=revision.blend.name,
        blend_reference=reference_name,
        revision_id=revision.pk,
        grade=revision.grade,
        tank=PlanTank(tank.name, tank.capacity_gal, tank.scale_step_lb),
        promised=promised,
        steps=_steps(recipe, ready),
        mass_lb=round(ready.mass_lb, PLACES),
        volume_gal=round(ready.volume_gal, PLACES),
        analysis={
            key: round(pct, PLACES) for key, pct in with_total_n(ready.blend.analysis).items()
        },
        slow_release_pct=_rounded(ready.blend.slow_release_pct),
        density_lb_per_gal=round(ready.blend.density_lb_per_gal, PLACES),
        density_window=_density_window(revision, ready, _density_temperature_f(recipe)),
        ph_window=ph_window(list(recipe.rows.values())),
        safety=tuple(_safety(recipe.rows[stock.code]) for stock in _in_charging_order(recipe)),
        findings=findings,
        jar_test_steps=_jar_test_steps(findings),
        cleanout=cleanout(previous, reference_name, traits, recipe.rules),
        retained_sample=RETAINED_SAMPLE,
    )


def load_promise(revision: BlendRevision) -> LoadPromise:
    """What the customer was promised at least and wanted at most."""
    slow = revision.wished.slow_release_pct or Range()
    return LoadPromise(
        minima_pct=_promised_minima_pct(revision),
        slow_release_min_pct=slow.min,
        maxima_pct=_wished_maxima_pct(revision),
        slow_release_max_pct=slow.max if _is_above(slow) else None,
    )


def _promised_minima_pct(revision: BlendRevision) -> dict[str, float]:
    """The wish's minima and the printed grade, percent by weight.

    The grade counts because it was quoted; a figure of it above the revision's own analysis
    (there is none unless somebody edited the grade) is no promise that could be kept.
    """
    targets = revision.wished.targets
    minima = {target.nutrient: target.min for target in targets if target.min is not None}
    for key, pct in grade_figures(revision.grade).items():
        if 0 < pct <= content_pct(revision.analysis, key) + 1e-6:
            minima[key] = max(pct, minima.get(key, 0.0))
    return minima


def _wished_maxima_pct(revision: BlendRevision) -> dict[str, float]:
    """What the customer wanted at most; a maximum at its own minimum could not be weighed."""
    return {
        target.nutrient: target.max
        for target in revision.wished.targets
        if target.max is not None and _is_above(target.range)
    }


def _is_above(bounds: Range) -> bool:
    return bounds.max is not None and bounds.max > (bounds.min or 0)


def grade_figures(grade: str) -> dict[str, float]:
    """N, P2O5 and K2O of a grade such as ``24-0-3`` or ``24.5-0-3.2``; empty if it is no grade."""
    figures = re.findall(r"\d+(?:\.\d+)?", grade)
    if len(figures) < len(_GRADE_KEYS):
        return {}
    return {key: float(text) for key, text in zip(_GRADE_KEYS, figures, strict=False)}


def _makeable(recipe: LoadRecipe) -> Blend:
    """The recipe on today's stocks; refused when a rule of today stops it."""
    blend = evaluate(recipe.stocks, recipe.shares, recipe.rules)
    stops = [finding.message for finding in blend.findings if finding.severity == "stop"]
    if stops:
        raise BadInput(
            f"{recipe.revision} must not be blended: {' '.join(stops)}"
            " A formulator has to make a new revision of this blend first."
        )
    return blend


def _weighed(
    recipe: LoadRecipe, blend: Blend, volume_gal: float, tank: Tank
) -> tuple[LoadPromise, ScaleReady]:
    """Scale-ready weights with everything promised kept; BadInput when the scale is too coarse."""
    promised = load_promise(recipe.revision)
    slow_min = promised.slow_release_min_pct
    question = engine.BlendProblem(
        stocks=recipe.stocks,
        wishes=tuple(engine.NutrientWish(k, least) for k, least in promised.minima_pct.items()),
        slow_release=None if slow_min is None else engine.SlowReleaseWish(min_pct=slow_min),
        rules=recipe.rules,
    )
    try:
        ready = _ready(recipe, blend, question, volume_gal, USUAL_TOLERANCE_PCT)
        if ready.volume_gal > tank.capacity_gal:
            # A full tank: aim lower so that the upper end of the tolerance is the brim.
            half = USUAL_TOLERANCE_PCT / 2
            ready = _ready(recipe, blend, question, volume_gal * (1 - half / 100), half)
    except NotWeighable as error:
        raise BadInput(
            f"{tank.name} cannot weigh {volume_gal:g} gal of {recipe.revision}:"
            f" {not_weighable_words(error)} Choose a tank with a finer scale or a larger load."
        ) from error
    except engine.BadProblem as error:
        raise BadInput(f"{recipe.revision} cannot be planned today: {error}") from error
    return promised, ready


def _ready(
    recipe: LoadRecipe,
    blend: Blend,
    question: engine.BlendProblem,
    volume_gal: float,
    tolerance_pct: float,
) -> ScaleReady:
    fill = engine.Fill(volume_gal=volume_gal)
    return scale_ready(recipe.stocks, blend, fill, guarantees=question, tolerance_pct=tolerance_pct)


def _in_charging_order(recipe: LoadRecipe) -> list[engine.Stock]:
    return sorted(recipe.stocks, key=lambda stock: (stock.charging_rank, stock.code))


def _steps(recipe: LoadRecipe, ready: ScaleReady) -> tuple[PlannedWeighing, ...]:
    """One weighing a stock, in charging order, with the running total and the frozen figures."""
    weight_of = {weight.code: weight.weight_lb for weight in ready.weights}
    steps, running = [], 0.0
    for stock in _in_charging_order(recipe):
        weight = weight_of[stock.code]
        running = round(running + weight, PLACES)
        steps.append(
            PlannedWeighing.extending(
                step_figures(recipe.rows[stock.code], stock),
                weight_lb=weight,
                running_total_lb=running,
                volume_gal=round(weight / stock.density_lb_per_gal, PLACES),
                pct=round(100 * weight / ready.mass_lb, PLACES),
            )
        )
    return tuple(steps)


def _catalogue_notes(recipe: LoadRecipe) -> Iterator[PlanFinding]:
    """What the catalogue says today about the stocks of an older recipe."""
    for row in recipe.rows.values():
        if row.retired_on is not None or row.short:
            state = "is retired" if row.retired_on is not None else "is marked as short"
            message = f"{row.name} {state}: make sure that enough is on hand."
            yield PlanFinding("stock_on_hand", "caution", message, "the plant's catalogue")
        is_water = any(trait.code == "water" for trait in row.traits.all())
        if row.salt_out_note and not is_water:
            yield PlanFinding("salt_out", "info", f"{row.name}: {row.salt_out_note}", "")


def _finding(finding: Finding) -> PlanFinding:
    return PlanFinding(finding.code, finding.severity, finding.message, finding.source)


def _safety(row: BaseStock) -> StockSafety:
    return StockSafety(
        code=row.code,
        name=row.name,
        hazards=_sentences(row.hazards),
        ppe=_sentences(row.ppe),
        source=cited(row.hazards_source, row.hazards_mark) if row.hazards_source else "",
    )


def _sentences(text: str) -> tuple[str, ...]:
    """One entry a sentence, without its full stop; the paper joins them."""
    parts = re.split(r"(?<=\.)\s+", text)
    return tuple(part.strip().rstrip(".") for part in parts if part.strip())


def _jar_test_steps(findings: Iterable[PlanFinding]) -> tuple[str, ...]:
    if not any(finding.code == "jar_test" for finding in findings):
        return ()
    test = reference.jar_test()
    return (*(_step_text(step) for step in test.steps), test.caution)


def _step_text(step: reference.JarTestStep) -> str:
    if not step.wait_hours:
        return step.text
    wait = f"{step.wait_hours:g} h" if step.wait_hours >= 1 else f"{step.wait_hours * 60:g} min"
    return f"After {wait}: {step.text}"


def _density_window(revision: BlendRevision, ready: ScaleReady, at_f: float) -> DensityWindow:
    """Around what a released batch of this revision measured, else around ideal mixing."""
    measured = MeasuredDensity.objects.filter(revision=revision).order_by("-pk").first()
    if measured is None:
        return density_window(ready.blend.density_lb_per_gal, at_f)
    # Kept at one temperature in the records, printed at the plan's own.
    expected = density_at_reference(
        measured.density_lb_per_gal, measured.reference_f, reference_f=at_f
    )
    return measured_window(expected, at_f, measured.reading.batch.number)


def _density_temperature_f(recipe: LoadRecipe) -> float:
    """The temperature the largest share's density was given at; others may differ by a few °F."""
    largest = max(recipe.shares, key=lambda share: share.pct)
    return recipe.rows[largest.code].density_temp_f


def _rounded(pct: float | None) -> float | None:
    return None if pct is None else round(pct, PLACES)
