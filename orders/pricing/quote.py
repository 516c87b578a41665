"""Price a quote: cost steps of every line, freight over all of them, margin, deposit."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from blendshop.money import ZERO, format_money, money, split_money
from orders.pricing.breakdown import MaterialLine, PriceBreakdown, PriceStep
from orders.pricing.checks import PricingError, require_count, require_decimal
from orders.pricing.freight import LineFreight, TruckLoad, price_freight
from orders.pricing.line import PlannedMaterial, QuoteLine
from orders.pricing.margin import CostBase, Judged, judge_margin, price_margin
from orders.pricing.terms import (
    DISCOUNTS,
    LB_PER_TON,
    MarginPolicy,
    QuoteTerms,
    ShopRates,
    StepCode,
)
from orders.pricing.unit_prices import price_per_1000sqft, price_per_lb_n, price_per_unit
from orders.pricing.wording import count, number, percent, rate

#: Costs that do not grow gallon by gallon; quantity breaks leave their margin alone.
_FIXED_STEPS = frozenset({StepCode.BLENDING_BATCH, StepCode.LAB, StepCode.FREIGHT})


@dataclass(frozen=True, slots=True)
class _Addend:
    code: StepCode
    label: str
    basis: str
    amount: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class QuotePrice:
    """All lines of a quote, in their order, with the truck loads they share (none: pick-up).

    ``before_whole`` is its ``price_total`` without the deal over the whole quote, None without one.
    """

    lines: tuple[PriceBreakdown, ...]
    loads: tuple[TruckLoad, ...]
    freight_total: Decimal
    price_total: Decimal
    deposit_total: Decimal
    total: Decimal
    before_whole: Decimal | None = None

    @property
    def approval_reasons(self) -> tuple[str, ...]:
        """Why the office must approve, once for each line below the floor."""
        return tuple(line.approval_reason for line in self.lines if line.approval_reason)

    @property
    def needs_approval(self) -> bool:
        """Any line is below the floor."""
        return bool(self.approval_reasons)


@dataclass(frozen=True, slots=True, kw_only=True)
class PriceBreak:
    """One row of the quantity table."""

    packages: int
    volume_gal: Decimal
    price_per_gal: Decimal
    price_per_package: Decimal | None
    price_total: Decimal
    margin_pct: Decimal | None
    needs_approval: bool


def price_quote(lines: Sequence[QuoteLine], terms: QuoteTerms) -> QuotePrice:
    """Price all lines together. PricingError names the field that cannot be priced."""
    if not lines:
        raise PricingError("lines", "a quote needs at least one line.")
    freight = price_freight(lines, terms.delivery, terms.currency, terms.agreed_freight)
    total_gal = sum((line.volume_gal for line in lines), Decimal(0))
    priced = tuple(
        _price(line, terms, total_gal, share)
        for line, share in zip(lines, freight.shares, strict=True)
    )
    return QuotePrice(
        lines=priced,
        loads=freight.loads,
        freight_total=freight.total,
        price_total=sum((line.price_total for line in priced), ZERO),
        deposit_total=sum((line.deposit_total for line in priced), ZERO),
        total=sum((line.total for line in priced), ZERO),
    )


def price_line(line: QuoteLine, terms: QuoteTerms) -> PriceBreakdown:
    """Price a quote of one line."""
    return price_quote([line], terms).lines[0]


def price_breaks(
    line: QuoteLine,
    terms: QuoteTerms,
    *,
    tank_capacity_gal: Decimal,
    quantities: Sequence[Decimal] | None = None,
    weighed: Callable[[QuoteLine], QuoteLine | None] | None = None,
) -> tuple[PriceBreak, ...]:
    """The line at other quantities, by policy (what a rep negotiated belongs to the asked one).

    ``quantities`` are gallons, rounded up to whole packages; without them: the asked quantity,
    every quantity break, and twice the last one. The recipe is scaled by volume and the number
    of batches follows from the tank; ``weighed`` gives such a line what is really weighed for it,
    or None where nothing can be: that quantity has no row.
    """
    require_decimal("tank_capacity_gal", tank_capacity_gal, above=Decimal(0))
    wanted = _break_quantities(line, terms.margin) if quantities is None else quantities
    resized = {}
    for gallons in wanted:
        other = _resized(line, gallons, tank_capacity_gal)
        resized[other.volume_gal] = other
    if weighed is not None:
        planned = {gal: weighed(other) for gal, other in resized.items()}
        resized = {gal: other for gal, other in planned.items() if other is not None}
    by_policy = replace(terms, agreed_freight=None)
    return tuple(_break_row(resized[gal], by_policy) for gal in sorted(resized))


def _break_quantities(line: QuoteLine, policy: MarginPolicy) -> list[Decimal]:
    starts = [step.above_gal for step in policy.breaks]
    return [line.volume_gal, *starts, *(2 * start for start in starts[-1:])]


def _resized(line: QuoteLine, gallons: Decimal, tank_capacity_gal: Decimal) -> QuoteLine:
    require_decimal("quantities", gallons, above=Decimal(0))
    if line.package.is_bulk:
        packages, volume = None, gallons
    else:
        packages = math.ceil(gallons / line.package.fill_gal)
        volume = packages * line.package.fill_gal
    recipe = tuple(replace(stock, lb=stock.lb * volume / line.volume_gal) for stock in line.recipe)
    return replace(
        line,
        recipe=recipe,
        planned=_scaled(line.planned, volume / line.volume_gal),
        packages=packages,
        bulk_gal=volume if packages is None else None,
        batches=batch_count(volume, tank_capacity_gal),
        override=None,
        discount=None,
        share=None,
    )


def _scaled(planned: PlannedMaterial | None, ratio: Decimal) -> PlannedMaterial | None:
    if planned is None:
        return None
    return replace(planned, net_lb=planned.net_lb * ratio, made_gal=planned.made_gal * ratio)


def batch_count(volume_gal: Decimal, tank_capacity_gal: Decimal) -> int:
    """Tank loads needed for a volume."""
    require_decimal("volume_gal", volume_gal, above=Decimal(0))
    require_decimal("tank_capacity_gal", tank_capacity_gal, above=Decimal(0))
    return math.ceil(volume_gal / tank_capacity_gal)


def package_count(volume_gal: Decimal, fill_gal: Decimal) -> int:
    """Packages of a nominal fill for a volume; PricingError if the last would be part-filled."""
    require_decimal("volume_gal", volume_gal, above=Decimal(0))
    require_decimal("package.fill_gal", fill_gal, above=Decimal(0))
    if volume_gal % fill_gal:
        fewer = math.floor(volume_gal / fill_gal)
        message = (
            f"{number(volume_gal)} gal leave a part-filled package; order {fewer} or "
            f"{fewer + 1} of {number(fill_gal)} gal."
        )
        raise PricingError("volume_gal", message)
    packages = int(volume_gal / fill_gal)
    require_count("packages", packages, at_least=1)
    return packages


def _break_row(line: QuoteLine, terms: QuoteTerms) -> PriceBreak:
    priced = price_line(line, terms)
    return PriceBreak(
        packages=priced.packages,
        volume_gal=priced.volume_gal,
        price_per_gal=priced.price_per_gal,
        price_per_package=priced.price_per_package,
        price_total=priced.price_total,
        margin_pct=priced.margin_pct,
        needs_approval=priced.needs_approval,
    )


def _price(
    line: QuoteLine, terms: QuoteTerms, total_gal: Decimal, freight: LineFreight
) -> PriceBreakdown:
    material = _material(line)
    costs = _cost_steps(line, terms.rates, material, terms.currency)
    charged = _Addend(StepCode.FREIGHT, "Freight", freight.basis, freight.amount)
    policy = terms.margin
    # What was agreed for freight is charged as it is; judged is what it costs the plant.
    passed_on = policy.pass_through
    if freight.tariff is not None:
        passed_on |= {StepCode.FREIGHT}
    cost = _cost_base([*costs, charged], passed_on)
    margin = _margin(line, terms, total_gal, cost)
    price_total = sum((addend.amount for addend in (*costs, charged, margin)), ZERO)
    given: list[_Addend] = []
    if line.discount is not None:
        off, basis = line.discount.off(
            price_total,
            volume_gal=line.volume_gal,
            packages=line.package_count,
            currency=terms.currency,
        )
        given.append(_Addend(StepCode.DISCOUNT, "Discount", basis, -off))
        price_total -= off
    if line.share is not None:
        moved, price_total = line.share.price - price_total, line.share.price
        agreed = format_money(line.share.agreed, terms.currency)
        if line.share.is_discount:
            basis = f"given by the rep: its share of what leaves {agreed} for the whole quote"
            given.append(_Addend(StepCode.QUOTE_DISCOUNT, "Discount on the quote", basis, moved))
        else:
            basis = f"set by the rep: its share of a price of {agreed} for the whole quote"
            margin = replace(margin, amount=margin.amount + moved, basis=basis)
    addends = [*costs, charged, margin, *given]
    dearer = max(freight.amount, freight.tariff or ZERO)
    judged_by = _cost_base([*costs, replace(charged, amount=dearer)], policy.pass_through)
    judged = judge_margin(price_total - judged_by.total, judged_by, policy, terms.currency)
    if deposit := _deposit(line, terms.currency):
        addends.append(deposit)
    return replace(
        _breakdown(line, terms, material, addends, price_total, judged),
        floor_total=judged_by.total + judged.floor,
        freight_tariff=freight.tariff,
        usual_total=_usual(line, terms, total_gal, cost),
    )


def _margin(line: QuoteLine, terms: QuoteTerms, total_gal: Decimal, cost: CostBase) -> _Addend:
    amount, basis = price_margin(
        cost,
        terms.margin,
        total_gal=total_gal,
        line_gal=line.volume_gal,
        override=line.override,
        currency=terms.currency,
    )
    return _Addend(StepCode.MARGIN, "Margin", basis, amount)


def _usual(
    line: QuoteLine, terms: QuoteTerms, total_gal: Decimal, cost: CostBase
) -> Decimal | None:
    """The price without deposit by policy; None where the line has no other."""
    if line.override is None and line.discount is None and line.share is None:
        return None
    return cost.total + _margin(replace(line, override=None), terms, total_gal, cost).amount


def _material(line: QuoteLine) -> tuple[MaterialLine, ...]:
    """Each stock's cents of the one rounded cost of all: the cost of a recipe, split over it."""
    cost_of = {stock.code: stock.lb * stock.cost_per_lb for stock in line.recipe}
    total, costs = money(sum(cost_of.values(), ZERO)), sorted(cost_of.items())
    # By code, so that the order of the recipe decides no cent.
    cents = split_money(total, [cost for _, cost in costs]) if any(cost_of.values()) else None
    amount_of = dict(zip((code for code, _ in costs), cents or [ZERO] * len(costs), strict=True))
    return tuple(
        MaterialLine(s.code, s.name, s.lb, s.cost_per_lb, amount_of[s.code]) for s in line.recipe
    )


def _material_basis(line: QuoteLine, currency: str) -> str:
    if line.planned is None:
        return f"{number(line.mass_lb)} lb of recipe at today's cost"
    made, room = number(line.planned.made_gal), rate(line.planned.room_per_gal, currency)
    return (
        f"{number(line.weighed_lb)} lb to weigh at today's cost, {made} gal so that"
        f" {number(line.volume_gal)} gal are sure; room for weighing: {room}/gal"
    )


def _cost_steps(
    line: QuoteLine, rates: ShopRates, material: Sequence[MaterialLine], currency: str
) -> list[_Addend]:
    """Everything the plant does and buys, before freight. Each amount is rounded by itself."""
    stock_cost = sum((stock.amount for stock in material), ZERO)
    package = line.package
    volume = f"{number(line.volume_gal)} gal"
    batches = count(line.batches, "batch", "batches")
    if package.is_bulk:
        package_basis = f"{volume} in bulk, no package"
    else:
        packages = count(line.package_count, package.name, package.plural_name)
        package_basis = f"{packages} at {rate(package.price_each, currency)}"
    tonnage, tons = rates.tonnage, line.mass_lb / LB_PER_TON
    per_ton = tonnage.per_ton if tonnage else Decimal(0)
    tonnage_basis = "no fee"
    if tonnage:
        tonnage_basis = (
            f"{number(tons, 3)} tons at {rate(per_ton, currency)}, "
            f"{tonnage.state} ({tonnage.citation})"
        )
    return [
        _Addend(
            StepCode.MATERIAL,
            "Material",
            _material_basis(line, currency),
            stock_cost,
        ),
        _Addend(
            StepCode.SHRINK,
            "Shrink",
            f"{percent(rates.shrink_pct)} shrink on material",
            money(stock_cost * rates.shrink_pct / 100),
        ),
        _Addend(
            StepCode.BLENDING_BATCH,
            "Blending, by batch",
            f"{batches} at {rate(rates.blending_per_batch, currency)}",
            money(line.batches * rates.blending_per_batch),
        ),
        _Addend(
            StepCode.BLENDING_VOLUME,
            "Blending, by gallon",
            f"{volume} at {rate(rates.blending_per_gal, currency)}",
            money(line.volume_gal * rates.blending_per_gal),
        ),
        _Addend(
            StepCode.PACKAGE,
            "Package",
            package_basis,
            money(line.package_count * package.price_each),
        ),
        _Addend(
            StepCode.LAB,
            "Laboratory",
            f"{batches} at {rate(rates.lab_per_batch, currency)}",
            money(line.batches * rates.lab_per_batch),
        ),
        _Addend(StepCode.TONNAGE, "State tonnage fee", tonnage_basis, money(tons * per_ton)),
    ]


def _cost_base(addends: Sequence[_Addend], passed_on: frozenset[StepCode]) -> CostBase:
    sums = {"by_volume": ZERO, "fixed": ZERO, "passed_through": ZERO}
    for addend in addends:
        if addend.code in passed_on:
            share = "passed_through"
        else:
            share = "fixed" if addend.code in _FIXED_STEPS else "by_volume"
        sums[share] += addend.amount
    return CostBase(**sums)


def _deposit(line: QuoteLine, currency: str) -> _Addend | None:
    each = line.package.deposit_each
    if not each:
        return None
    packages = count(line.package_count, line.package.name, line.package.plural_name)
    basis = f"{packages} at {rate(each, currency)}, refunded when returned"
    return _Addend(StepCode.DEPOSIT, "Deposit", basis, money(line.package_count * each))


def _breakdown(
    line: QuoteLine,
    terms: QuoteTerms,
    material: tuple[MaterialLine, ...],
    addends: Sequence[_Addend],
    price_total: Decimal,
    judged: Judged,
) -> PriceBreakdown:
    steps: list[PriceStep] = []
    running = ZERO
    for addend in addends:
        running += addend.amount
        step = PriceStep(addend.code, addend.label, addend.basis, addend.amount, running)
        steps.append(step)
    packages, n_rate = line.package_count, line.n_rate_lb_per_1000sqft
    per_1000sqft = None
    if n_rate is not None:
        per_1000sqft = price_per_1000sqft(price_total, line.mass_lb, line.n_pct, n_rate)
    return PriceBreakdown(
        steps=tuple(steps),
        material=material,
        volume_gal=line.volume_gal,
        mass_lb=line.mass_lb,
        gross_lb=line.gross_lb,
        packages=packages,
        price_total=price_total,
        deposit_total=running - price_total,
        total=running,
        price_per_gal=price_per_unit(price_total, line.volume_gal),
        price_per_lb=price_per_unit(price_total, line.mass_lb),
        price_per_package=price_per_unit(price_total, Decimal(packages)) if packages else None,
        price_per_lb_n=price_per_lb_n(price_total, line.mass_lb, line.n_pct),
        price_per_1000sqft=per_1000sqft,
        margin_pct=judged.pct,
        approval_reason=judged.approval_reason,
        shown_to_customer=_shown(terms),
    )


def _shown(terms: QuoteTerms) -> frozenset[StepCode]:
    """What a customer may read by itself: also what was talked about, a discount and freight."""
    shown = terms.shown_to_customer | terms.margin.pass_through | set(DISCOUNTS)
    return shown if terms.agreed_freight is None else shown | {StepCode.FREIGHT}
