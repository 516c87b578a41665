"""A deal over all lines of a quote, brought down to each; worked by hand, with demo dollars."""

import pytest

from orders.pricing import (
    Discount,
    PricingError,
    StepCode,
    WholeDeal,
    customer_lines,
    price_choices,
    price_quote,
)
from tests.orders.pricing.pricing_cases import D, line, policy, terms

# One tote: material 300.00 or 100.00, tote 140.00, gross margin 25 %.
#   440.00 / 0.75 = 586.67 and 240.00 / 0.75 = 320.00; floors at 12 %: 500.00 and 272.73
BY = terms(policy("25", "12"))
DEAR, PLAIN = line((("2000", "0.15"),)), line((("2000", "0.05"),))


def priced(deal, *choices):
    return price_choices(choices, BY, deal)


@pytest.mark.parametrize(
    ("deal", "agreed"),
    [
        (WholeDeal(pct=D(5)), "861.34"),  # 906.67 x 5 % = 45.33
        (WholeDeal(amount=D("45.33")), "861.34"),
        (WholeDeal(price=D("861.34")), "861.34"),
    ],
)
def test_each_line_has_its_share_to_the_cent_whichever_way_it_was_said(deal, agreed):
    (price,) = priced(deal, [DEAR, PLAIN])
    # 861.34 x 586.67 / 906.67 = 557.339...; 861.34 x 320 / 906.67 = 304.000...
    assert [each.price_total for each in price.lines] == [D("557.34"), D("304.00")]
    assert (price.price_total, price.before_whole) == (D(agreed), D("906.67"))
    for each, usual, cost in zip(price.lines, ("586.67", "320.00"), (440, 240), strict=True):
        assert each.usual_total == D(usual)
        assert each.earned == each.price_total - cost
        assert sum(step.amount for step in each.steps) == each.total
        read = {row.code: row.amount for row in customer_lines(each)}
        assert sum(read.values()) == each.total
        # A discount is read, a price that was asked for is not.
        off = each.price_total - D(usual)
        assert read.get("quote_discount") == (off if deal.is_discount else None)


def test_the_last_cents_go_to_the_largest_remainders_and_then_to_the_earlier_line():
    (price,) = priced(WholeDeal(price=D(1000)), [DEAR, DEAR, DEAR])
    assert [each.price_total for each in price.lines] == [D("333.34"), D("333.33"), D("333.33")]
    # 586.67 and 320.00 of 906.67, as 100.01: 64.712... and 35.297..., the cent to the second
    (price,) = priced(WholeDeal(price=D("100.01")), [DEAR, PLAIN])
    assert [each.price_total for each in price.lines] == [D("64.71"), D("35.30")]


def test_every_choice_changes_by_the_ratio_of_the_cheapest_to_the_cent():
    choices = ([DEAR, PLAIN], [PLAIN, PLAIN])
    for deal in (WholeDeal(price=D(600)), WholeDeal(amount=D(40))):
        dear, cheap = priced(deal, *choices)
        assert cheap.price_total == D(600)
        assert dear.price_total == D("850.00")  # 906.67 x 600 / 640 = 850.003
    dear, cheap = priced(WholeDeal(pct=D("6.25")), *choices)
    assert (dear.price_total, cheap.price_total) == (D("850.00"), D(600))


def test_a_line_below_its_own_floor_goes_to_the_office_and_the_other_does_not():
    # 12 % off: 281.60 is above 272.73; 19.99 more off the dear one of its own: below 500.00
    given = line((("2000", "0.15"),), discount=Discount(amount=D("40.00")))
    (price,) = priced(WholeDeal(pct=D(12)), [given, PLAIN])
    dear, plain = price.lines
    assert dear.amount(StepCode.DISCOUNT) == -40
    assert dear.price_total == D("481.07")  # 546.67 x 0.88
    assert dear.below_floor == D("18.93")
    assert "$18.93 short" in dear.approval_reason
    assert plain.approval_reason is None
    assert price.approval_reasons == (dear.approval_reason,)


def test_a_higher_price_is_a_margin_and_no_deal_prices_as_ever():
    (price,) = priced(WholeDeal(price=D(1000)), [DEAR, PLAIN])
    assert price.price_total == 1000
    assert all(each.given_away < 0 for each in price.lines)
    assert priced(None, [DEAR, PLAIN]) == (price_quote([DEAR, PLAIN], BY),)


def test_more_off_than_the_price_and_half_a_deal_are_refused():
    with pytest.raises(PricingError, match=r"more off than the price of \$906\.67"):
        priced(WholeDeal(amount=D("906.68")), [DEAR, PLAIN])
    for wrong in ({}, {"pct": D(5), "amount": D(5)}, {"pct": D(100)}, {"amount": D(-1)}):
        with pytest.raises(PricingError):
            WholeDeal(**wrong)
