"""Discounts, agreed freight, a price asked for; worked by hand, with demo dollars."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from orders.pricing import (
    Discount,
    Override,
    PricingError,
    StepCode,
    customer_lines,
    price_breaks,
    price_line,
    price_quote,
)
from tests.orders.pricing.pricing_cases import (
    D,
    delivery,
    line,
    policy,
    terms,
    zone,
)

# One tote of 265 gal: material 300.00, tote 140.00, freight 60.00 by zone; gross margin 25 %.
#   cost 500.00; margin 500 x 25/75 = 166.67; usual price 666.67
#   floor 12 %: 500 x 12/88 = 68.18; lowest price without approval 568.18
STOCK = (("2000", "0.15"),)
BY_ZONE = terms(policy("25", "12"), delivery=delivery(zone(load="60")))
USUAL, FLOOR = D("666.67"), D("568.18")


def priced(agreed=None, **changes):
    by = (
        BY_ZONE
        if agreed is None
        else terms(policy("25", "12"), delivery=delivery(zone(load="60")), agreed_freight=D(agreed))
    )
    return price_line(line(STOCK, n_pct=D(20), **changes), by)


@pytest.mark.parametrize(
    ("discount", "off"),
    [
        (Discount(pct=D(5)), "33.33"),  # 666.67 x 5 % = 33.3335
        (Discount(per_gal=D("0.10")), "26.50"),  # 265 x 0.10
        (Discount(per_package=D(20)), "20.00"),
        (Discount(amount=D("98.49")), "98.49"),  # down to the floor, and not below it
    ],
)
def test_a_discount_is_a_step_behind_the_margin_and_comes_out_of_it(discount, off):
    price = priced(discount=discount)
    codes = [step.code for step in price.steps]
    assert codes.index(StepCode.DISCOUNT) == codes.index(StepCode.MARGIN) + 1
    assert price.amount(StepCode.DISCOUNT) == -D(off)
    assert price.price_total == price.steps[-1].running_total == USUAL - D(off)
    assert (price.usual_total, price.given_away, price.floor_total) == (USUAL, D(off), FLOOR)
    assert price.earned == D("166.67") - D(off)
    assert price.margin_pct == 100 * price.earned / (500 + price.earned)
    assert not price.needs_approval


def test_a_cent_more_than_the_floor_allows_goes_to_the_office_with_how_much_is_missing():
    price = priced(discount=Discount(amount=D("98.50")))
    assert price.above_floor == D("-0.01")
    assert "$0.01 short; the office must approve it." in price.approval_reason


def test_the_customer_reads_discount_and_agreed_freight_and_never_the_margin():
    price = priced(agreed="40", discount=Discount(pct=D(10)))
    # freight without margin: 440 x 25/75 = 146.67; 440 + 146.67 + 40 = 626.67; 10 % = 62.67
    read = {each.code: each.amount for each in customer_lines(price)}
    assert read["freight"] == D(40)
    assert read["discount"] == D("-62.67")
    assert sum(read.values()) == price.total == D("564.00")
    assert "margin" not in read


def test_freight_below_its_tariff_is_earned_less_and_freight_above_it_is_not_earned():
    # at 60.00 by the tariff: 440 + 146.67 + 60 = 646.67, of which 146.67 is earned
    low, even, high = priced(agreed="0"), priced(agreed="60"), priced(agreed="90")
    assert [each.earned for each in (low, even, high)] == [D("86.67"), D("146.67"), D("146.67")]
    assert [each.amount(StepCode.FREIGHT) for each in (low, even, high)] == [D(0), D(60), D(90)]
    assert {each.freight_tariff for each in (low, even, high)} == {D(60)}
    assert "agreed by the rep instead of $60.00" in low.steps[-2].basis
    # The floor is that of the dearer freight: (440 + 90) x 12/88 = 72.27
    assert (low.floor_total, high.floor_total) == (FLOOR, D("602.27"))


def test_freight_is_not_agreed_on_what_is_picked_up():
    with pytest.raises(PricingError, match="picked up"):
        terms(agreed_freight=D(50))


@given(st.decimals(min_value="3.00", max_value="2000", places=2))
@settings(deadline=None, max_examples=60)
def test_a_price_asked_is_reached_to_the_cent_and_so_is_the_discount_that_does_the_same(asked):
    target = price_line(line(STOCK, n_pct=D(20), override=Override(price_total=asked)), BY_ZONE)
    assert target.price_total == asked
    if target.given_away > 0:
        same = price_line(
            line(STOCK, n_pct=D(20), discount=Discount(amount=target.given_away)), BY_ZONE
        )
        assert (same.price_total, same.earned, same.margin_pct, same.approval_reason) == (
            asked,
            target.earned,
            target.margin_pct,
            target.approval_reason,
        )
    assert target.needs_approval == (asked < FLOOR) == (target.above_floor < 0)


def test_agreed_freight_is_shared_by_weight_to_the_cent_and_other_quantities_are_by_tariff():
    by = terms(policy("25"), delivery=delivery(zone(load="60")), agreed_freight=D("100.01"))
    two = price_quote([line(STOCK, n_pct=D(20)), line((("4000", "0.15"),), n_pct=D(20))], by)
    assert sum(each.amount(StepCode.FREIGHT) for each in two.lines) == D("100.01")
    asked = line(STOCK, n_pct=D(20), discount=Discount(pct=D(9)))
    (row,) = price_breaks(asked, by, tank_capacity_gal=D(600), quantities=[D(265)])
    assert row.price_total == USUAL


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [
        (lambda: Discount(), "exactly one"),
        (lambda: Discount(pct=D(5), amount=D(5)), "exactly one"),
        (lambda: Discount(pct=D(100)), "below 100"),
        (lambda: priced(discount=Discount(amount=D(700))), "more off than the price"),
    ],
)
def test_what_cannot_be_given_is_refused(wrong, sentence):
    with pytest.raises(PricingError, match=sentence):
        wrong()
