"""The load-plan contract: a formulation in a tank, with weights whose promises hold on target.

The answer is the formulation's, with the recipe as planned (shares of what is charged) and, under
``load``, the steps, what the full tank holds with its heel, and the label that every load weighed
on target bears out. Where there is none, ``load`` is null, ``status`` is ``out_of_reach`` and
``findings`` say which step or window is in the way.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any, Final

from django.utils.translation import override

from blendshop.errors import BadInput
from blendshop.money import money
from formulas.answers.answer import (
    Answer,
    Infeasibility,
    Notice,
    OutOfReachAnswer,
    SolvedAnswer,
    WishReach,
)
from formulas.answers.load import LoadAnswer, PlannedStep, ScaleNotice, WindowNotice
from formulas.contracts.field_paths import field_of
from formulas.contracts.formulation import Formulation, formulate, trusted
from formulas.contracts.formulation_answer import (
    PLACES,
    answer_of,
    blend_figures,
    notice_of,
)
from formulas.contracts.formulation_request import read_request
from formulas.contracts.load_plan_label import load_label
from formulas.contracts.load_plan_request import ParsedLoad, read_load
from formulas.contracts.strict_json import Refusals
from formulas.engine.composition import with_total_n
from formulas.engine.plant.load import LoadQuestion, LoadStep, PlannedLoad
from formulas.engine.plant.not_weighable import NotWeighable
from formulas.engine.plant.with_room import plan_with_room
from formulas.engine.problem import BadProblem, Fill
from formulas.engine.result import Severity, Solved
from formulas.engine_bridge import Catalogue, exact, unit_cost
from formulas.wording.limits import contract_words
from formulas.wording.weighing import coarse_step_words, not_weighable_words, window_words

_SOURCE: Final = "follows from the wish, the scales and the smallest tolerance of one division"


@dataclass(frozen=True, slots=True)
class LoadPlan:
    """The formulation's answer, the planned load, and why there is none."""

    answer: Answer
    load: LoadAnswer | None
    findings: tuple[Notice, ...] = ()

    def contract_json(self) -> dict[str, Any]:
        """The answer of the contract."""
        return {
            **self.answer.contract_json(),
            "load": None if self.load is None else self.load.contract_json(),
            "findings": [finding.contract_json() for finding in self.findings],
        }


def plan_load(body: Any, *, catalogue: Catalogue | None) -> LoadPlan:
    """Answer a load-plan request; BadInput names every refused field.

    ``catalogue`` as of ``formulate``.
    """
    load, formulation = _formulation(body, catalogue)
    # A recipe that is only evaluated is kept; otherwise the optimum is the load's own, which
    # makes up for a heel.
    question = load.question(formulation.problem, formulation.request.recipe)
    try:
        with trusted():
            planned = plan_with_room(question)
    except BadProblem as bad:
        raise BadInput(
            "The request has fields that need correcting.",
            fields={error.field: error.message for error in bad.errors},
        ) from bad
    except NotWeighable as refused:
        return _not_planned(formulation, refused)
    return LoadPlan(
        answer=_planned_answer(formulation, planned),
        load=_load(formulation, question, planned),
    )


def _formulation(body: Any, catalogue: Catalogue | None) -> tuple[ParsedLoad, Formulation]:
    """Load and formulation, or all that is wrong with both at once."""
    refusals = Refusals()
    load, rest = read_load(body, refusals)
    if load is not None and not refusals.fields:
        return load, formulate(rest, catalogue=catalogue)
    try:
        if rest:
            read_request(rest, catalogue)
    except BadInput as bad:
        for path, message in bad.fields.items():
            refusals.add(path, message)
    raise refusals.error()


def _planned_answer(formulation: Formulation, planned: PlannedLoad) -> SolvedAnswer:
    charged_lb = sum(step.weight_lb for step in planned.steps)
    figures = blend_figures(planned.blend, formulation.catalogue, Fill(mass_lb=charged_lb))
    answer = formulation.answer
    if not isinstance(answer, SolvedAnswer):
        # Only with what is in the tank already.
        solved = Solved(planned.blend)
        answer = answer_of(formulation.request, formulation.problem, solved)
        assert isinstance(answer, SolvedAnswer)  # noqa: S101 - it was made of a blend
    return replace(answer, **figures)


def _load(formulation: Formulation, question: LoadQuestion, planned: PlannedLoad) -> LoadAnswer:
    slow = planned.slow_release_pct
    rank = {stock.code: (stock.charging_rank, stock.code) for stock in question.problem.stocks}
    own = [finding for finding in planned.findings if finding not in planned.blend.findings]
    return LoadAnswer(
        steps=tuple(
            _step(step) for step in sorted(planned.steps, key=lambda step: rank[step.code])
        ),
        tolerance_pct=planned.tolerance_pct,
        analysis=_rounded(with_total_n(_forms(planned.analysis))),
        least_pct=_rounded(planned.least_pct),
        most_pct=_rounded(planned.most_pct),
        slow_release_pct=None if slow is None else round(slow, PLACES),
        density_lb_per_gal=round(planned.density_lb_per_gal, PLACES),
        volume_gal=round(planned.volume_gal, PLACES),
        least_gal=round(planned.least_gal, PLACES),
        net_weight_lb=round(planned.net_weight_lb, PLACES),
        cost=_cost(formulation.catalogue, planned),
        room_cost_per_gal=unit_cost(planned.room_cost_per_gal),
        gap=round(planned.gap, PLACES),
        label=load_label(formulation, planned),
        findings=tuple(notice_of(finding) for finding in own),
    )


def _step(step: LoadStep) -> PlannedStep:
    return PlannedStep(
        code=step.code,
        weight_lb=step.weight_lb,
        tolerance_lb=step.tolerance_lb,
        scale=step.scale,
        division_lb=step.division_lb,
    )


def _cost(catalogue: Catalogue, planned: PlannedLoad) -> Decimal:
    """Of the stocks charged, to the cent; the heel costs nothing."""
    costs = (exact(step.weight_lb) * catalogue.cost_per_lb[step.code] for step in planned.steps)
    return money(sum(costs, Decimal(0)))


def _forms(analysis: Mapping[str, float]) -> dict[str, float]:
    return {key: pct for key, pct in analysis.items() if key != "N"}


def _rounded(analysis: Mapping[str, float]) -> dict[str, float]:
    return {key: round(pct, PLACES) for key, pct in analysis.items()}


def _not_planned(formulation: Formulation, refused: NotWeighable) -> LoadPlan:
    """Out of reach: by the wish alone, or by what cannot be weighed of it."""
    answer = formulation.answer
    if isinstance(answer, SolvedAnswer):
        answer = OutOfReachAnswer(
            analysis={},
            left_out=answer.left_out,
            out_of_reach=_infeasibility(formulation, refused),
        )
    with override("en"):
        findings = tuple(_findings(formulation, refused))
    return LoadPlan(answer, None, findings)


def _infeasibility(formulation: Formulation, refused: NotWeighable) -> Infeasibility:
    request, limits = formulation.request, refused.cannot_hold
    return Infeasibility(
        conflict=tuple(contract_words(refused.problem, limit) for limit in limits),
        conflict_fields=tuple(field_of(request, limit) for limit in limits),
        reach=tuple(
            WishReach(
                wish=contract_words(refused.problem, window.limit),
                field=field_of(request, window.limit),
                asked=window.asked,
                best=window.nearest,
            )
            for window in refused.windows
        ),
        alternatives=(),
    )


def _findings(formulation: Formulation, refused: NotWeighable) -> Iterator[Notice]:
    """What is in the way, by path and figure beside the words."""
    for window in refused.windows:
        yield WindowNotice(
            code="window_too_narrow",
            severity=Severity.STOP,
            message=window_words(window),
            source=_SOURCE,
            field=field_of(formulation.request, window.limit),
            nearest=window.nearest,
        )
    for step in refused.coarse_steps:
        yield ScaleNotice(
            code="scale_too_coarse",
            severity=Severity.STOP,
            message=coarse_step_words(step),
            source=_SOURCE,
            stock=step.code,
            division_lb=step.division_lb,
            finer_lb=step.finer_lb,
        )
    if not (refused.windows or refused.coarse_steps):
        yield Notice(
            code="out_of_reach",
            severity=Severity.STOP,
            message=not_weighable_words(refused),
            source=_SOURCE,
        )
