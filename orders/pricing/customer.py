"""The customer's view of a price: no cost, no margin, the same total."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from blendshop.money import ZERO
from orders.pricing.breakdown import PriceBreakdown
from orders.pricing.terms import StepCode


@dataclass(frozen=True, slots=True)
class CustomerLine:
    """One line a customer may read."""

    code: str
    label: str
    amount: Decimal


def customer_lines(price: PriceBreakdown) -> tuple[CustomerLine, ...]:
    """Product, then the charges shown or passed on separately, then the deposit.

    Lines of 0 are left out (the product never is). They add up to ``price.total``: whatever is
    not shown on its own, margin included, is inside the product price. Neither the basis of a
    step nor its running total is passed on, since both would give the costs away.
    """
    separate = [
        step
        for step in price.steps
        if step.amount and (step.code in price.shown_to_customer or step.code == StepCode.DEPOSIT)
    ]
    product = price.total - sum((step.amount for step in separate), ZERO)
    return (
        CustomerLine("product", "Product", product),
        *(CustomerLine(step.code.value, step.label, step.amount) for step in separate),
    )
