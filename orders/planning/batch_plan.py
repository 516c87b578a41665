"""The plan of one tank load: weights with room, where they come from, hazards, cautions. Frozen.

The engine plans so that every weight the screen calls on target keeps every promise. The stocks'
figures of this minute are copied into the plan, so that tickets and labels are drawn from it and
not from tomorrow's catalogue.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from functools import partial
from typing import Final

from django.utils.translation import gettext as _

from blendshop.errors import BadInput
from blendshop.figures.readers import house
from formulas import reference
from formulas.contracts.formulation_answer import PLACES
from formulas.engine import problem as engine
from formulas.engine.blend.evaluate import evaluate
from formulas.engine.composition import guarantee_name, with_total_n
from formulas.engine.density.reference_temperature import REFERENCE_F
from formulas.engine.plant.load import Heel
from formulas.engine.plant.not_weighable import NotWeighable
from formulas.engine.result import EngineFailure, Finding
from formulas.engine.work.effort import TooLarge
from formulas.engine_bridge import cited, unit_cost
from formulas.models import BaseStock, BlendRevision
from formulas.wording.weighing import not_weighable_words
from orders.frozen.load_plan import (
    DensityWindow,
    LoadPlan,
    PlanFinding,
    PlannedWeighing,
    PlanTank,
    StockSafety,
)
from orders.models import Tank
from orders.planning.load_question import LoadRecipe, load_question
from orders.planning.lot_choice import LotOnHand, Supply, comes_from_the_main
from orders.planning.lot_plan import LotPlan, LotsDoNotSettle, plan_from_lots
from orders.planning.mixture import hazard_findings
from orders.planning.recipe_density import (
    load_density_correction,
    measured_lb_per_gal,
    newest_measured,
)
from orders.planning.room_savings import room_savings
from orders.planning.step_figures import step_figures
from orders.planning.tank_heel import Onto, cleanout, onto
from orders.planning.windows import (
    density_window,
    expected_density_basis,
    measured_window,
    ph_window,
)
from orders.tanks.heel import TankHeel

RETAINED_SAMPLE: Final = (
    "1 pint, sealed, labelled with the batch number; keep 12 months (common practice, no source)"
)
#: Differences of decimal figures carried as floats.
_NOISE_PCT: Final = 1e-9
#: A full tank is asked for what stands above its brim less, and a little more, ...
_BELOW_BRIM_GAL: Final = 0.05
#: ... but for no less than this part of what was wanted: a coarser scale is no way to make it.
_LEAST_FILL: Final = 0.95


@dataclass(frozen=True, slots=True, kw_only=True)
class AskedLoad:
    """A load to plan: so many gallons of a recipe in a tank, from what is on hand.

    ``lots`` are those not spoken for, by stock code in their order of use; ``printed_pct`` are the
    label lines promised already. ``heel`` is what is counted in; None: an empty tank.
    """

    recipe: LoadRecipe
    tank: Tank
    volume_gal: float
    lots: Mapping[str, Sequence[LotOnHand]] = field(default_factory=dict)
    printed_pct: Mapping[str, Decimal] = field(default_factory=dict)
    heel: Heel | None = None


def plan_load(asked: AskedLoad, found: TankHeel) -> LoadPlan:
    """The frozen plan of one load, charged onto what is ``found`` in the tank by then.

    BadInput in a sentence when it cannot be made or weighed. Where it cannot be made onto what is
    in the tank, the plan asks for a flush.
    """
    recipe, tank = asked.recipe, asked.tank
    planned, under = _beside_heel(asked, onto(tank, found, recipe, asked.volume_gal))
    load, revision = planned.load, recipe.revision
    steps = _steps(recipe, planned)
    findings = (
        *hazard_findings(steps, under.frozen_heel),
        *_catalogue_notes(recipe),
        *_lots_missing(recipe, planned, asked.lots),
        *under.findings,
        *map(_finding, load.findings),
    )
    return LoadPlan(
        product_name=revision.blend.name,
        blend_reference=f"{revision.blend.name} r{revision.number}",
        revision_id=revision.pk,
        grade=revision.grade,
        tank=PlanTank(tank.name, tank.capacity_gal, tank.scale_step_lb, tank.fine_step_lb),
        promised=recipe.promise,
        steps=steps,
        mass_lb=round(load.net_weight_lb, PLACES),
        volume_gal=round(load.volume_gal, PLACES),
        analysis=_rounded_contents(with_total_n(load.analysis)),
        slow_release_pct=_rounded(load.slow_release_pct),
        density_lb_per_gal=round(load.density_lb_per_gal, PLACES),
        density_correction=planned.question.density_correction,
        density_window=_density_window(revision, planned),
        ph_window=ph_window(list(recipe.rows.values())),
        safety=tuple(_safety(recipe.rows[stock.code]) for stock in _in_charging_order(recipe)),
        findings=findings,
        jar_test_steps=_jar_test_steps(findings),
        cleanout=cleanout(under, recipe),
        retained_sample=RETAINED_SAMPLE,
        tolerance_pct=load.tolerance_pct,
        heel=under.frozen_heel,
        least_pct=dict(planned.least_pct),
        printed_pct=dict(asked.printed_pct),
        room_cost_per_gal=unit_cost(load.room_cost_per_gal),
        cost_per_gal=unit_cost(load.cost / load.volume_gal),
        room_savings=room_savings(planned.question, load),
    )


def _beside_heel(asked: AskedLoad, under: Onto) -> tuple[LotPlan, Onto]:
    """The weights beside what is in the tank, or after a flush where no promise lives with it."""
    if under.heel is None:
        return planned_weights(asked), under
    try:
        return planned_weights(replace(asked, heel=under.heel)), under
    except BadInput as refused:
        # What cannot be weighed into an empty tank either is refused as such.
        planned = planned_weights(asked)
        return planned, under.flushed(f"Beside what is left {refused.message}")


def planned_weights(asked: AskedLoad) -> LotPlan:
    """The weights of a load with everything promised kept; BadInput says what is in the way."""
    _require_makeable(asked.recipe)
    try:
        return _from_lots(asked, asked.printed_pct)
    except NotWeighable as error:
        missed = _lines_in_the_way(asked)
        if missed:
            raise _refused(
                asked,
                _(
                    "its label promises %(missed)s, which this load cannot keep. Choose"
                    " other lots or another tank, or a formulator makes a new revision of"
                    " this blend with other label lines."
                )
                % {"missed": missed},
            ) from error
        raise _refused(asked, not_weighable_words(error)) from error
    except LotsDoNotSettle as error:
        raise _refused(
            asked,
            _(
                "the lots on hand differ too much to be put together. Put one of them"
                " on hold, or receive more."
            ),
        ) from error
    except engine.BadProblem as error:
        raise BadInput(
            _("%(revision)s cannot be planned today: %(error)s")
            % {"revision": asked.recipe.revision, "error": error}
        ) from error
    except EngineFailure as error:
        raise _refused(asked, _("the solver gave no trustworthy plan.")) from error
    except TooLarge as error:
        raise _refused(
            asked, _("it takes more work than one load may. Plan it with fewer stocks.")
        ) from error


def _from_lots(asked: AskedLoad, printed_pct: Mapping[str, Decimal]) -> LotPlan:
    """The plan; of a tank that is filled to its brim somewhat less than was asked.

    The engine plans so that at least the asked volume is there at every weight on target. Where
    that would stand above the brim, the volume is lowered until the planned weights fit.
    """
    wanted_gal = asked.volume_gal
    while wanted_gal > _LEAST_FILL * asked.volume_gal:
        planned = _at_volume(asked, wanted_gal, printed_pct)
        over_gal = planned.load.volume_gal - asked.tank.capacity_gal
        if over_gal <= 0:
            return planned
        wanted_gal -= over_gal + _BELOW_BRIM_GAL
    raise _refused(asked, _("its division is too coarse to stay below the brim."))


def _at_volume(asked: AskedLoad, volume_gal: float, printed_pct: Mapping[str, Decimal]) -> LotPlan:
    recipe = asked.recipe
    modelled = evaluate(recipe.stocks, recipe.shares).density_lb_per_gal
    correction = load_density_correction(recipe.revision)
    ask = partial(
        load_question,
        recipe,
        tank=asked.tank,
        volume_gal=volume_gal,
        printed_pct={key: float(pct) for key, pct in printed_pct.items()},
        density_correction=correction,
        heel=asked.heel,
    )
    heel_gal = 0.0 if asked.heel is None else asked.heel.volume_gal
    mass_lb = (volume_gal - heel_gal) * modelled * correction
    needs = {share.code: share.pct / 100 * mass_lb for share in recipe.shares}
    return plan_from_lots(recipe.stocks, needs, asked.lots, ask)


def _refused(asked: AskedLoad, why: str) -> BadInput:
    return BadInput(
        _("%(tank)s cannot weigh %(volume_gal)s gal of %(revision)s: %(why)s")
        % {
            "tank": asked.tank.name,
            "volume_gal": house().at_most(asked.volume_gal, 1),
            "revision": asked.recipe.revision,
            "why": why,
        }
    )


def _lines_in_the_way(asked: AskedLoad) -> str:
    """The printed lines without which the load could be weighed; empty if they are not why."""
    if not asked.printed_pct:
        return ""
    try:
        free = _from_lots(asked, {})
    except (NotWeighable, LotsDoNotSettle):
        return ""
    return ", ".join(
        f"{guarantee_name(key)} {house().guarantee(pct)}"
        for key, pct in asked.printed_pct.items()
        if free.least_pct.get(key, 0.0) < float(pct) - _NOISE_PCT
    )


def _require_makeable(recipe: LoadRecipe) -> None:
    """Refuses a recipe that a rule of today stops."""
    blend = evaluate(recipe.stocks, recipe.shares, recipe.rules)
    stops = [finding.message for finding in blend.findings if finding.severity == "stop"]
    if stops:
        raise BadInput(
            _(
                "%(revision)s must not be blended: %(stops)s A formulator has to make"
                " a new revision of this blend first."
            )
            % {"revision": recipe.revision, "stops": " ".join(stops)}
        )


def _in_charging_order(recipe: LoadRecipe) -> list[engine.Stock]:
    return sorted(recipe.stocks, key=lambda stock: (stock.charging_rank, stock.code))


def _steps(recipe: LoadRecipe, planned: LotPlan) -> tuple[PlannedWeighing, ...]:
    """One weighing a stock, in charging order, with the running total and the frozen figures."""
    step_of = {step.code: step for step in planned.load.steps}
    charged_lb = sum(step.weight_lb for step in planned.load.steps)
    density_of = {stock.code: stock.density_lb_per_gal for stock in planned.stocks}
    steps, running = [], 0.0
    for stock in _in_charging_order(recipe):
        if (step := step_of.get(stock.code)) is None:
            continue  # the recipe has no room for so little of it
        running = round(running + step.weight_lb, PLACES)
        figures = step_figures(recipe.rows[stock.code], stock)
        steps.append(
            PlannedWeighing.extending(
                figures,
                scale_step_lb=step.division_lb,
                weight_lb=step.weight_lb,
                tolerance_lb=step.tolerance_lb,
                scale=step.scale,
                running_total_lb=running,
                volume_gal=round(step.weight_lb / density_of[stock.code], PLACES),
                pct=round(100 * step.weight_lb / charged_lb, PLACES),
                lots=planned.supplies[stock.code].lots,
            )
        )
    return tuple(steps)


def _lots_missing(
    recipe: LoadRecipe, planned: LotPlan, lots: Mapping[str, Sequence[LotOnHand]]
) -> Iterator[PlanFinding]:
    """Which stocks are planned with typical figures for want of a lot."""
    missing = [
        _missing_words(recipe.rows[code], supply)
        for code, supply in planned.supplies.items()
        if supply.typical_lb > 0 and not comes_from_the_main(recipe.rows[code], lots.get(code, ()))
    ]
    if missing:
        message = (
            f"Planned with typical figures, no free lot on hand: {', '.join(missing)}. Weigh in a"
            " lot whose certificate says less, and the load may miss its promise."
        )
        yield PlanFinding("typical_figures", "caution", message, "the stock ledger")


def _missing_words(row: BaseStock, supply: Supply) -> str:
    mass = house().mass(supply.typical_lb, 0)
    return f"{row.name} ({mass} of {house().mass(supply.lb, 0)})" if supply.lots else row.name


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


def _density_window(revision: BlendRevision, planned: LotPlan) -> DensityWindow:
    """Around what a released batch of this revision measured, else around the model, at 60 F."""
    measured = newest_measured(revision)
    if measured is not None:
        number = measured.reading.batch.number
        return measured_window(measured_lb_per_gal(measured), REFERENCE_F, number)
    weight_of = {step.code: step.weight_lb for step in planned.load.steps}
    basis = expected_density_basis(
        planned.stocks, [weight_of.get(stock.code, 0.0) for stock in planned.stocks]
    )
    return density_window(planned.load.density_lb_per_gal, REFERENCE_F, basis)


def _rounded(pct: float | None) -> float | None:
    return None if pct is None else round(pct, PLACES)


def _rounded_contents(analysis: Mapping[str, float]) -> dict[str, float]:
    return {key: round(pct, PLACES) for key, pct in analysis.items()}
