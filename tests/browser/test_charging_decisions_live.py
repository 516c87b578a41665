"""The script's side of the table of charging decisions; the server's is in tests/orders."""

from collections.abc import Callable, Iterator
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from playwright.sync_api import Browser

from orders.production.actions.charging import positive_pounds
from tests.orders.production.charging_decisions import DECISIONS, QUESTIONS

MODULE = Path(settings.STATICFILES_DIRS[0]) / "shop" / "charging" / "decisions.js"
#: The module alone, without the page it serves.
DECIDE = """async ([source, steps, kept, texts]) => {
    const address = `data:text/javascript,${encodeURIComponent(source)}`;
    const { withWaiting, standing, currentStep, left, total, parsed } = await import(address);
    const given = withWaiting(steps, kept);
    const current = currentStep(given);
    return {
      standings: given.map((step) => standing(step, step.in)),
      current: current ? current.number : null,
      left: given.map(left),
      total: total(given),
      stop_at: total(given) + (current ? left(current) : 0),
      parsed: texts.map(parsed),
    };
}"""

#: What the module asks about a weight, and says of a scanned lot.
ASK = """async ([source, step, tank, mass, galPerLb]) => {
    const address = `data:text/javascript,${encodeURIComponent(source)}`;
    const { asks, thousandths } = await import(address);
    const given = { ...step, in: thousandths(step.charged) };
    return asks(given, tank, thousandths(mass), galPerLb);
}"""
SCAN = """async ([source, step, lots, code]) => {
    const address = `data:text/javascript,${encodeURIComponent(source)}`;
    const { lotStanding } = await import(address);
    return lotStanding(step, lots, code);
}"""

Decide = Callable[..., dict[str, Any]]


@pytest.fixture(scope="module")
def decide(browser: Browser) -> Iterator[Decide]:
    """``decide(steps, kept)`` with what the server sent and what waits on the tablet."""
    page = browser.new_page()
    source = MODULE.read_text()

    def ask(
        steps: list[dict[str, Any]], kept: list[dict[str, Any]], texts: tuple[str, ...] = ()
    ) -> dict[str, Any]:
        answer: dict[str, Any] = page.evaluate(DECIDE, [source, steps, kept, texts])
        return answer

    yield ask
    page.close()


@pytest.mark.parametrize("case", DECISIONS)
def test_the_script_decides_as_the_table_says(decide: Decide, case: dict[str, Any]) -> None:
    steps = [
        {
            "number": number,
            "target": step["target"],
            "tolerance": step["tolerance"],
            "charged": str(sum(map(Decimal, step["charged"]), Decimal(0))),
        }
        for number, step in enumerate(case["steps"], start=1)
    ]
    kept = [
        {"key": f"{number}-{mass}", "step": str(number), "mass_lb": mass}
        for number, step in enumerate(case["steps"], start=1)
        for mass in step["waiting"]
    ]
    decided = decide(steps, kept)
    assert decided["standings"] == [
        {"stands": step["stands"], "words": step["words"]} for step in case["steps"]
    ]
    assert decided["current"] == case["current"]
    assert [Decimal(left) / 1000 for left in decided["left"]] == [
        Decimal(step["left"]) for step in case["steps"]
    ]
    for figure in ("total", "stop_at"):
        assert Decimal(decided[figure]) / 1000 == Decimal(case[figure]), figure


def test_what_the_script_takes_as_a_weight_the_server_takes_too(decide: Decide) -> None:
    taken = {"1250": "1250", " 12,250.5 ": "12250.5", "0.001": "0.001"}
    refused = ("", "0", "0.000", "-5", "12.3456", "1e3", "12 lb", ".5")
    decided = decide([], [], (*taken, *refused))
    for mass in taken.values():
        assert positive_pounds(Decimal(mass)) == Decimal(mass)
    assert decided["parsed"] == [*taken.values(), *[None] * len(refused)]


@pytest.mark.parametrize("case", QUESTIONS)
def test_the_script_asks_as_the_table_says(browser: Browser, case: dict[str, Any]) -> None:
    page = browser.new_page()
    tank = {"name": "Tank 1", "capacity_gal": case["capacity_gal"], "gal": case["gal"]}
    asked = page.evaluate(
        ASK, [MODULE.read_text(), case["step"], tank, case["mass"], case["gal_per_lb"]]
    )
    page.close()
    assert [[each["question"], each["words"]] for each in asked] == case["asks"]


LOTS = [
    {"code": "L-2026-0012", "stock": "KCL", "name": "KCl solution", "text": "", "why_not": ""},
    {"code": "L-2026-0013", "stock": "UAN", "name": "UAN 32", "text": "tank 4", "why_not": ""},
    {"code": "L-2026-0014", "stock": "UAN", "name": "UAN 32", "text": "", "why_not": "is held: x"},
    {"code": "L-2026-0015", "stock": "UAN", "name": "UAN 32", "text": "weak", "why_not": ""},
]


@pytest.mark.parametrize(
    ("code", "words", "stops"),
    [
        ("l-2026-0012 ", "L-2026-0012 is KCl solution, not UAN 32.", True),
        ("L-2026-0013", "tank 4. The printed weights keep every promise.", False),
        ("L-2026-0014", "L-2026-0014 is held: x", True),
        ("L-2026-0015", "weak. With the printed weights a promise would be missed", False),
        ("L-2026-0099", "L-2026-0099 is not known on this tablet; the server checks it.", False),
    ],
)
def test_a_scanned_lot_is_named_without_asking_anybody(
    browser: Browser, code: str, words: str, stops: bool
) -> None:
    page = browser.new_page()
    step = {
        "code": "UAN",
        "name": "UAN 32",
        "lots_keep": {"L-2026-0013": True, "L-2026-0015": False},
    }
    said = page.evaluate(SCAN, [MODULE.read_text(), step, LOTS, code])
    page.close()
    assert said["words"].startswith(words)
    assert said["stops"] is stops
