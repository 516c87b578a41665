"""The assay-check contract: guarantees and a laboratory's findings in, verdicts back."""

from __future__ import annotations

from typing import Any, Final

from formulas.answers.assay import AssayAnswer, CheckedNutrient
from formulas.contracts.formulation_answer import PLACES
from formulas.contracts.strict_json import Node, Refusals
from formulas.engine.label import allowances
from formulas.engine.label.assay_check import AssayCheck, check_assay
from formulas.engine.problem import BadProblem
from formulas.reference.allowances import UNIFORM, allowance_rules

CAUTION: Final = (
    "A screening aid: sampling, laboratory method and the state's own text decide what is "
    "deficient."
)


def allowance_pct(key: str, guarantee_pct: float, *, rule: str = UNIFORM) -> float | None:
    """Percentage points that may be missing of a guarantee under a rule, None without a figure.

    KeyError for a rule that is not in the table.
    """
    return allowances.allowance_pct(key, guarantee_pct, allowance_rules()[rule])


def assay_check(body: Any) -> AssayAnswer:
    """Answer an assay-check request; ``BadInput`` names every refused field."""
    refusals = Refusals()
    node = Node(body, "", refusals)
    if refusals.fields:
        raise refusals.error()
    code = node.text("rule") or UNIFORM
    for key in ("guarantees", "found"):
        if not node.has(key):
            refusals.add(key, "Is missing.")
    guarantees, found = node.numbers("guarantees"), node.numbers("found")
    node.done()
    rules = allowance_rules()
    if code not in rules:
        refusals.add("rule", f"Must be one of {', '.join(rules)}.")
    try:
        check = check_assay(guarantees, found, rules.get(code, rules[UNIFORM]))
    except BadProblem as bad:
        for error in bad.errors:
            if not refusals.covers(error.field):
                refusals.add(error.field, error.message)
    if refusals.fields:
        raise refusals.error()
    return assay_answer(check)


def assay_answer(check: AssayCheck) -> AssayAnswer:
    """The verdicts, figures rounded."""
    rule = allowance_rules()[check.rule]
    return AssayAnswer(
        nutrients=tuple(
            CheckedNutrient(
                key=nutrient.key,
                guaranteed=nutrient.guaranteed,
                found=nutrient.found,
                allowance=_rounded(nutrient.allowance),
                floor=round(nutrient.floor, PLACES),
                verdict=nutrient.verdict,
                source=nutrient.source,
                verified=nutrient.verified,
                note=nutrient.note,
            )
            for nutrient in check.nutrients
        ),
        index_value_pct=_rounded(check.index_value_pct),
        index_floor_pct=check.index_floor_pct,
        index_verdict=check.index_verdict,
        index_source=check.index_source,
        index_note=rule.index_note,
        rule=check.rule,
        rule_name=rule.name,
        deficient=check.is_deficient,
        caution=CAUTION,
    )


def _rounded(figure: float | None) -> float | None:
    return None if figure is None else round(figure, PLACES)
