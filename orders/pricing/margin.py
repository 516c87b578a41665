"""Margin: from cost, policy and a rep's override to an amount, in words, and who must approve."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from itertools import pairwise

from blendshop.money import format_money, money
from orders.pricing.line import Override
from orders.pricing.terms import MarginKind, MarginPolicy
from orders.pricing.wording import number, percent, rate


@dataclass(frozen=True, slots=True, kw_only=True)
class CostBase:
    """Cost of a line in cents: growing with the gallons, fixed, and passed through at cost."""

    by_volume: Decimal
    fixed: Decimal
    passed_through: Decimal

    @property
    def with_margin(self) -> Decimal:
        """The cost that carries margin."""
        return self.by_volume + self.fixed

    @property
    def total(self) -> Decimal:
        return self.with_margin + self.passed_through


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """``pct`` is the margin reached, in the policy's kind; None where there is nothing to
    divide by. ``floor`` is the margin it must reach, in dollars; ``approval_reason`` is None
    unless it does not."""

    pct: Decimal | None
    floor: Decimal
    approval_reason: str | None


def margin_on(cost: Decimal, pct: Decimal, kind: MarginKind) -> Decimal:
    """Unrounded margin on ``cost``: gross margin m gives cost m/(100 - m), markup cost m/100."""
    divisor = 100 - pct if kind == MarginKind.GROSS_MARGIN else Decimal(100)
    return cost * pct / divisor


def margin_pct(amount: Decimal, cost: Decimal, kind: MarginKind) -> Decimal | None:
    """The percentage that ``amount`` is of the price (gross margin) or of the cost (markup)."""
    whole = cost + amount if kind == MarginKind.GROSS_MARGIN else cost
    return 100 * amount / whole if whole > 0 else None


def bands(policy: MarginPolicy, total_gal: Decimal) -> tuple[tuple[Decimal, Decimal], ...]:
    """``(gallons, margin percent)`` for each band of the quote's gallons that is reached."""
    starts = [Decimal(0), *(step.above_gal for step in policy.breaks)]
    percents = [
        policy.target_pct,
        *(policy.target_pct - step.points_off for step in policy.breaks),
    ]
    ends = [*starts[1:], total_gal]
    reached = (
        (min(end, total_gal) - start, pct)
        for start, end, pct in zip(starts, ends, percents, strict=True)
        if start < total_gal
    )
    return tuple(reached)


def price_margin(
    cost: CostBase,
    policy: MarginPolicy,
    *,
    total_gal: Decimal,
    line_gal: Decimal,
    override: Override | None,
    currency: str,
) -> tuple[Decimal, str]:
    """Margin of one line in cents, by policy or by the rep's override, and how it came about.

    ``total_gal`` is the quote's volume, which decides the quantity breaks; ``line_gal`` the
    line's, which turns an asked price per gallon into a total.
    """
    if override is None:
        amount, basis = _by_policy(cost, policy, total_gal, currency)
    else:
        amount, basis = _by_override(cost, policy, override, line_gal, currency)
    if cost.passed_through:
        basis += f"; {format_money(cost.passed_through, currency)} passed on at cost"
    return amount, basis


def judge_margin(earned: Decimal, cost: CostBase, policy: MarginPolicy, currency: str) -> Judged:
    """Whether what is earned over a line's cost needs the office's approval."""
    reached = margin_pct(earned, cost.with_margin, policy.kind)
    # Compared in cents: a margin exactly at the floor must not fail on its own rounding.
    floor = money(margin_on(cost.with_margin, policy.floor_pct, policy.kind))
    reason = None
    if earned < floor:
        reason = _below_floor(earned, reached, floor, policy, currency)
    return Judged(pct=reached, floor=floor, approval_reason=reason)


def _of_what(policy: MarginPolicy) -> str:
    return "of the price" if policy.kind == MarginKind.GROSS_MARGIN else "of the cost"


def _by_policy(
    cost: CostBase, policy: MarginPolicy, total_gal: Decimal, currency: str
) -> tuple[Decimal, str]:
    reached = bands(policy, total_gal)
    exact = margin_on(cost.fixed, policy.target_pct, policy.kind)
    for gallons, pct in reached:
        exact += margin_on(cost.by_volume * gallons / total_gal, pct, policy.kind)
    on_cost = f"{_of_what(policy)}, on {format_money(cost.with_margin, currency)} of cost"
    basis = f"{policy.tier}: {percent(policy.target_pct)} {on_cost}"
    if len(reached) > 1:
        start, lowered = Decimal(0), []
        for (gallons, _), (_, pct) in pairwise(reached):
            start += gallons
            lowered.append(f"{percent(pct)} beyond {number(start)} gal")
        basis += f", {', '.join(lowered)} (not on batch, lab and freight charges)"
    return money(exact), basis


def _by_override(
    cost: CostBase, policy: MarginPolicy, override: Override, line_gal: Decimal, currency: str
) -> tuple[Decimal, str]:
    on_cost = f"on {format_money(cost.with_margin, currency)} of cost"
    if override.margin_pct is not None:
        amount = money(margin_on(cost.with_margin, override.margin_pct, policy.kind))
        return (
            amount,
            f"set by the rep: {percent(override.margin_pct)} {_of_what(policy)}, {on_cost}",
        )
    if override.price_per_gal is not None:
        price = money(override.price_per_gal * line_gal)
        asked = f"{rate(override.price_per_gal, currency)} per gal"
    else:
        price = money(override.price_total or Decimal(0))
        asked = format_money(price, currency)
    amount = price - cost.with_margin - cost.passed_through
    return amount, f"set by the rep: what a price of {asked} leaves {on_cost}"


def _below_floor(
    earned: Decimal,
    reached: Decimal | None,
    floor: Decimal,
    policy: MarginPolicy,
    currency: str,
) -> str:
    if earned < 0:
        below = f"The price is {format_money(-earned, currency)} below cost"
    else:
        shown = "no margin" if reached is None else f"A margin of {percent(reached)}"
        below = f"{shown} is below the floor of {percent(policy.floor_pct)}"
    missing = format_money(floor - earned, currency)
    return f"{below} for {policy.tier}, {missing} short; the office must approve it."
