"""The price of one line: every step with its reason, and what follows from their sum."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from blendshop.snapshot import Snapshot
from orders.pricing.terms import StepCode
from orders.pricing.unit_prices import price_per_unit


@dataclass(frozen=True, slots=True)
class MaterialLine(Snapshot):
    """One stock of the recipe at today's cost; the amounts add up to the material step."""

    code: str
    name: str
    lb: Decimal
    cost_per_lb: Decimal
    amount: Decimal


@dataclass(frozen=True, slots=True)
class PriceStep(Snapshot):
    """One addend in cents. ``basis`` says in words how it came about."""

    code: StepCode
    label: str
    basis: str
    amount: Decimal
    running_total: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class PriceBreakdown(Snapshot):
    """``total`` is the sum of all steps; ``price_total`` is without the refundable deposit.

    Unit prices have four places and come from ``price_total``. ``price_per_package`` is None in
    bulk, ``price_per_lb_n`` without nitrogen, ``price_per_1000sqft`` also without a rate.
    ``margin_pct`` is the margin reached, unrounded, in the kind of the policy, after what was
    given away. ``floor_total`` is the lowest ``price_total`` that needs no approval.
    ``usual_total`` is the ``price_total`` by policy where a rep set another, ``freight_tariff``
    what the tariff asks where other freight was agreed.
    """

    steps: tuple[PriceStep, ...]
    material: tuple[MaterialLine, ...]
    volume_gal: Decimal
    mass_lb: Decimal
    gross_lb: Decimal
    packages: int
    price_total: Decimal
    deposit_total: Decimal
    total: Decimal
    price_per_gal: Decimal
    price_per_lb: Decimal
    price_per_package: Decimal | None
    price_per_lb_n: Decimal | None
    price_per_1000sqft: Decimal | None
    margin_pct: Decimal | None
    approval_reason: str | None
    shown_to_customer: frozenset[StepCode]
    usual_total: Decimal | None = None
    floor_total: Decimal | None = None
    freight_tariff: Decimal | None = None

    @property
    def needs_approval(self) -> bool:
        """Below the policy's floor; ``approval_reason`` is the sentence."""
        return self.approval_reason is not None

    def amount(self, code: StepCode) -> Decimal:
        """The amount of one step; 0 if the price has no such step."""
        return sum((step.amount for step in self.steps if step.code == code), Decimal("0.00"))

    @property
    def earned(self) -> Decimal:
        """The margin that is left after a discount and after freight below its tariff."""
        short = Decimal("0.00")
        if self.freight_tariff is not None:
            short = min(short, self.amount(StepCode.FREIGHT) - self.freight_tariff)
        return self.amount(StepCode.MARGIN) - self.discounted + short

    @property
    def discounted(self) -> Decimal:
        """What the customer reads as taken off, on the line and on the whole quote."""
        return -self.amount(StepCode.DISCOUNT) - self.amount(StepCode.QUOTE_DISCOUNT)

    @property
    def given_away(self) -> Decimal | None:
        """By how much the price is below the usual one (above it, below 0); None by policy."""
        return None if self.usual_total is None else self.usual_total - self.price_total

    @property
    def given_away_per_gal(self) -> Decimal | None:
        given = self.given_away
        return None if given is None else price_per_unit(given, self.volume_gal)

    @property
    def above_usual(self) -> Decimal | None:
        return None if self.given_away is None else -self.given_away

    @property
    def below_floor(self) -> Decimal | None:
        return None if self.above_floor is None else -self.above_floor

    @property
    def above_floor(self) -> Decimal | None:
        """By how much the price is above the floor, below it where negative; None on old prices."""
        return None if self.floor_total is None else self.price_total - self.floor_total
