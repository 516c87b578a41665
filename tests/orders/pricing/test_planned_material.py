"""Material that is a plan's: a little more than what is sold, and said so. Worked by hand."""

from dataclasses import replace
from decimal import Decimal

import pytest

from orders.pricing import (
    PlannedMaterial,
    PricingError,
    QuantityBreak,
    QuoteTerms,
    ShopRates,
    StepCode,
    price_breaks,
    price_line,
)
from tests.orders.pricing.pricing_cases import D, line, policy, tote

TERMS = QuoteTerms(rates=ShopRates(), margin=policy(target="0"))
PLANNED = PlannedMaterial(net_lb=D(2650), made_gal=D("266.4"), room_per_gal=D("0.0312"))
ROWS = (("1272", "0.18"), ("1260", "0.001"))


def test_the_recipe_costs_what_is_weighed_and_the_product_weighs_what_is_sold():
    price = price_line(line(ROWS, planned=PLANNED), TERMS)
    assert price.amount(StepCode.MATERIAL) == D("230.22")  # 228.96 + 1.26
    assert price.mass_lb == 2650
    assert price.gross_lb == 2780
    assert price.steps[0].basis == (
        "2,532 lb to weigh at today's cost, 266.4 gal so that 265 gal are sure;"
        " room for weighing: $0.0312/gal"
    )


def test_without_a_plan_the_recipe_is_the_product():
    price = price_line(line(ROWS), TERMS)
    assert price.mass_lb == 2532
    assert price.steps[0].basis == "2,532 lb of recipe at today's cost"


def test_material_is_rounded_once_and_its_cents_are_shared():
    """Three stocks at half a cent each are 1.5 cents together, 2 when rounded, not 3."""
    price = price_line(line((("1", "0.005"), ("1", "0.005"), ("1", "0.005"))), TERMS)
    assert price.amount(StepCode.MATERIAL) == D("0.02")
    assert [stock.amount for stock in price.material] == [D("0.01"), D("0.01"), D("0.00")]


def test_material_that_costs_nothing_is_shared_as_nothing():
    price = price_line(line((("100", "0"),)), TERMS)
    assert [stock.amount for stock in price.material] == [D("0.00")]


def test_the_rated_load_of_a_package_counts_what_is_sold_in_it():
    light = tote(max_net_lb=D(2600))
    with pytest.raises(PricingError, match="would hold 2,650 lb"):
        line(ROWS, package=light, planned=PLANNED)


@pytest.mark.parametrize(
    ("field", "value"), [("net_lb", "0"), ("made_gal", "-1"), ("room_per_gal", "-0.01")]
)
def test_a_plan_of_nothing_is_refused(field, value):
    with pytest.raises(PricingError, match=field):
        replace(PLANNED, **{field: D(value)})


def test_each_quantity_is_weighed_by_itself_and_one_that_cannot_be_has_no_row():
    terms = replace(
        TERMS, margin=policy(breaks=(QuantityBreak(above_gal=D(530), points_off=Decimal(2)),))
    )
    seen = []

    def weighed(other):
        seen.append((other.volume_gal, other.planned.net_lb, other.planned.made_gal))
        return None if other.volume_gal == 530 else replace(other, batches=7)

    rows = price_breaks(
        line(ROWS, planned=PLANNED), terms, tank_capacity_gal=D(1200), weighed=weighed
    )
    assert [row.volume_gal for row in rows] == [265, 1060]
    assert seen == [
        (265, 2650, D("266.4")),
        (530, 5300, D("532.8")),
        (1060, 10600, D("1065.6")),
    ]
