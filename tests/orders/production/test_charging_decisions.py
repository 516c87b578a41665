"""The server's side of the table of charging decisions; the script's is in tests/browser."""

from dataclasses import replace
from decimal import Decimal

import pytest

from orders.frozen.load_plan import Weighing
from orders.models import Batch, Charge, Tank
from orders.models.pounds import exact_pounds
from orders.production import confirmations
from orders.production.step_rows import step_words
from orders.production.steps import Step, charged_lb, current_step
from tests.orders.production.charging_decisions import DECISIONS, QUESTIONS


def step_of(number, given):
    figures = Weighing(
        code="UAN",
        name="UAN 28",
        derived_from="",
        other_origin="",
        metals={},
        scale_step_lb=float(given["scale_step"]),
        density_lb_per_gal=10.66,
        analysis={},
        traits=(),
        instruction="",
        weight_lb=float(given["target"]),
        volume_gal=1.0,
        tolerance_lb=given.get("plan_tolerance"),
    )
    charges = [Charge(mass_lb=exact_pounds(mass)) for mass in given["charged"] + given["waiting"]]
    why = "a correction" if given.get("addition") else ""
    return Step(number, figures, tuple(charges), why)


@pytest.mark.parametrize("case", DECISIONS)
def test_the_server_decides_as_the_table_says(case):
    steps = [step_of(number, given) for number, given in enumerate(case["steps"], start=1)]
    for step, given in zip(steps, case["steps"], strict=True):
        assert step.tolerance_lb == Decimal(given["tolerance"])
        assert step.left_lb == Decimal(given["left"])
        assert (step.status, step_words(step)) == (given["stands"], given["words"])
    current, total = current_step(steps), charged_lb(steps)
    assert total == Decimal(case["total"])
    assert (current.number if current else None) == case["current"]
    assert total + (current.left_lb if current else 0) == Decimal(case["stop_at"])


@pytest.mark.parametrize("case", QUESTIONS)
def test_the_server_asks_as_the_table_says(case, monkeypatch):
    given = case["step"]
    step = step_of(1, {"target": given["target"], "scale_step": "1", "charged": [], "waiting": []})
    step = replace(step, planned=replace(step.planned, name=given["name"]))
    if given["charged"] != "0":
        step = replace(step, charges=(Charge(mass_lb=exact_pounds(given["charged"])),))
    batch = Batch(tank=Tank(name="Tank 1", capacity_gal=case["capacity_gal"]))
    after_gal = case["gal"] + float(case["mass"]) * case["gal_per_lb"]
    monkeypatch.setattr(confirmations, "_volume_gal", lambda *_: after_gal)
    asked = []
    try:
        confirmations.require_confirmed(
            batch, [step], step, None, exact_pounds(case["mass"]), seen_lb=None, confirmed=()
        )
    except confirmations.Unconfirmed as refused:
        asked = [[each.question, each.words] for each in refused.asked]
    assert asked == case["asks"]
