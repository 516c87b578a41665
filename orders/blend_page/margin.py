"""The margin panel: for each guarantee what the blend holds, how it scatters, and the chances."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any, Final

from blendshop.money import money
from formulas.engine.blend.margin_spread import SLOW_RELEASE
from formulas.engine.composition import NAMES
from formulas.engine_bridge import exact
from orders.blend_page.question import Question, WishPlace
from orders.blend_page.spreads import spread_sources
from orders.models import Package

#: Chances below this are said as "below": no spread is known that well.
_LEAST_SAID: Final = 1e-4


@dataclass(frozen=True, slots=True)
class MarginRow:
    """One guarantee; percentages as in the analysis, chances in words."""

    key: str
    name: str
    guarantee_pct: float
    expected_pct: float
    sigma_pct: float
    allowance_pct: float | None
    chance_below: str
    chance_deficient: str


@dataclass(frozen=True, slots=True)
class MarginPanel:
    """What the margin did; the costs are what it adds in material, None for customers.

    ``cost`` is of the whole fill, ``cost_per_package`` None in bulk. ``why_not``
    says that the margin cannot be had, empty if it can.
    """

    chance: str
    rows: tuple[MarginRow, ...]
    cost: Decimal | None
    cost_per_gal: Decimal | None
    cost_per_package: Decimal | None
    is_tight: bool
    sources: tuple[str, ...]
    why_not: str = ""


def margin_panel(
    answer: Mapping[str, Any], package: Package | None, *, sees_cost: bool
) -> MarginPanel | None:
    """None without a margin in the question."""
    margin = answer.get("margin")
    if margin is None:
        return None
    chance = chance_words(margin["chance"])
    if not answer["totals"]:
        why = "Even without a margin this wish is out of reach."
        if margin["reachable_without"]:
            why = "Without the margin this wish can be had. Ask for less, or allow a larger chance."
        return MarginPanel(chance, (), None, None, None, is_tight=True, sources=(), why_not=why)
    totals, per_lb = answer["totals"], Decimal(margin["cost_per_lb"])
    per_gal = per_lb * exact(totals["density_lb_per_gal"])
    loose = package is None or package.is_bulk
    return MarginPanel(
        chance=chance,
        rows=tuple(_row(item) for item in margin["guarantees"]),
        cost=money(per_lb * exact(totals["mass_lb"])) if sees_cost else None,
        cost_per_gal=money(per_gal) if sees_cost else None,
        cost_per_package=(
            None if package is None or loose or not sees_cost else money(per_gal * package.fill_gal)
        ),
        is_tight=margin["is_tight"],
        sources=spread_sources(),
    )


def _row(item: Mapping[str, Any]) -> MarginRow:
    key = item["key"]
    return MarginRow(
        key=key,
        name="Slow release, % of N" if key == SLOW_RELEASE else NAMES[key],
        guarantee_pct=item["guarantee_pct"],
        expected_pct=item["expected_pct"],
        sigma_pct=item["sigma_pct"],
        allowance_pct=item["allowance_pct"],
        chance_below=chance_words(item["chance_below_guarantee"]),
        chance_deficient=chance_words(item["chance_deficient"]),
    )


def chance_words(chance: float) -> str:
    """A fraction as a percentage to two figures; what is smaller than known is "below".

    >>> chance_words(0.01), chance_words(3e-11)
    ('1 %', 'below 0.01 %')
    """
    if chance < _LEAST_SAID:
        return f"below {100 * _LEAST_SAID:g} %"
    return f"{100 * chance:.2g} %"


def with_aims(question: Question, answer: Mapping[str, Any]) -> Question:
    """The question that also knows the engine's names of the aims a margin has set."""
    margin = answer.get("margin")
    if margin is None:
        return question
    aims = {item["key"]: item["aim_pct"] for item in margin["guarantees"]}
    places = dict(question.places)
    for key, aim_pct in (margin.get("aims_pct") or aims).items():
        slow = key == SLOW_RELEASE
        subject, unit = ("slow release", " % of N") if slow else (key, " %")
        words = subject if slow else NAMES[key].lower()
        suffix = unit if slow else ""
        # The answer's figures are rounded; the engine names its wishes to ten digits.
        for name in _names(subject, aim_pct, suffix, answer):
            places.setdefault(name, WishPlace("", f"{words} with its margin at least", unit))
    return replace(question, places=places)


def _names(subject: str, aim_pct: float, suffix: str, answer: Mapping[str, Any]) -> list[str]:
    """Names in the answer that speak of this aim."""
    reasons = answer.get("out_of_reach") or {}
    said = [item["wish"] for item in answer["sensitivity"]]
    said += list(reasons.get("conflict", ()))
    said += [item["wish"] for item in reasons.get("reach", ())]
    said += [item["wish"] for card in reasons.get("alternatives", ()) for item in card["relaxed"]]
    start = f"{subject} at least "
    found = []
    for name in said:
        if name.startswith(start) and name.endswith(suffix):
            figure = name.removeprefix(start).removesuffix(suffix)
            if abs(float(figure) - aim_pct) < 1e-5:
                found.append(name)
    return found
