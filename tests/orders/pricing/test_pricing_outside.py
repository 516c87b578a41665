"""Prices against arithmetic published by others; each source stands beside its figures."""

from decimal import Decimal

import pytest

from blendshop.money import money
from orders.pricing import FEDERAL_GROSS_LIMIT_LB, LB_PER_TON, price_line, price_per_lb_n
from tests.orders.pricing.pricing_cases import D, line, policy, terms, tote, truck

WISCONSIN = "M. Rankin, University of Wisconsin Extension, fertilizer math (uwex.edu FertMath)"
NOBLE = "Noble Research Institute, 'Fertilizer - Buy the numbers', Ag News and Views, June 2007"
PURDUE = "Purdue University, fertilizer math for corn, 26 March 2002 (prices and 1,640 lb N)"
PURDUE_2022 = "Purdue Extension figures in Indiana Prairie Farmer, 13 April 2022"

# dollars a ton, percent N, printed dollars a pound of N, source
PRINTED = [
    ("700", "46", "0.76", WISCONSIN),
    ("600", "28", "1.07", WISCONSIN),
    ("412", "46", "0.45", NOBLE),
    ("370", "34", "0.54", NOBLE),
    ("900", "46", "0.98", PURDUE_2022),
    ("1600", "82", "0.98", PURDUE_2022),
]


@pytest.mark.parametrize(("per_ton", "n_pct", "printed", "source"), PRINTED)
def test_a_pound_of_nitrogen_costs_what_extension_prints(per_ton, n_pct, printed, source):
    assert money(price_per_lb_n(D(per_ton), LB_PER_TON, D(n_pct))) == D(printed), source


def test_wisconsin_finds_the_solution_31_cents_dearer_per_pound_of_nitrogen():
    urea = price_per_lb_n(D(700), LB_PER_TON, D(46))
    solution = price_per_lb_n(D(600), LB_PER_TON, D(28))
    assert money(solution - urea) == D("0.31"), WISCONSIN


# The page prints 1,640 lb N a ton of ammonia at $285 and UAN 28 at $225; the cents follow:
# 285 / 1,640 = 0.17378, 225 / 560 = 0.40179.
@pytest.mark.parametrize(
    ("per_ton", "lb_n", "n_pct", "expected"),
    [("285", "1640", "82", "0.1738"), ("225", "560", "28", "0.4018")],
)
def test_purdue_pounds_of_nitrogen_in_a_ton_give_the_price(per_ton, lb_n, n_pct, expected):
    assert LB_PER_TON * D(n_pct) / 100 == D(lb_n), PURDUE
    assert price_per_lb_n(D(per_ton), LB_PER_TON, D(n_pct)) == D(expected)


def test_a_ton_sold_at_cost_gives_the_same_pound_of_nitrogen():
    # Wisconsin's ton of UAN through the whole price, nothing added to material.
    ton = line(
        (("2000", "0.30"),),
        tote(price="0"),
        n_pct=D(28),
        n_rate_lb_per_1000sqft=D("0.5"),
    )
    priced = price_line(ton, terms(policy("0")))
    assert money(priced.price_per_lb_n) == D("1.07"), WISCONSIN
    # Half a pound of N on 1,000 sq ft: 600 / 560 / 2 = 0.535714.
    assert priced.price_per_1000sqft == D("0.5357")


def test_the_default_gross_limit_is_the_federal_one():
    # 23 U.S.C. 127(a); 23 CFR 658.17(b); FHWA, "Questions and Answers About Vehicle Size and
    # Weight": 80,000 pounds unless the bridge formula or a grandfathered weight says otherwise.
    assert Decimal(80_000) == FEDERAL_GROSS_LIMIT_LB
    assert truck("33000").payload_lb == Decimal(47_000)
