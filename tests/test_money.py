"""Money: one rounding rule, one formatter, shares that add up."""

from decimal import Decimal, localcontext

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from blendshop.money import format_money, money, split_money, unit_price

# How long an example takes says nothing about money, and a busy machine must not fail a test.
unhurried = settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])

AMOUNTS = st.decimals(-(10**9), 10**9, allow_nan=False, allow_infinity=False, places=5)
CENTS = st.integers(0, 10**9).map(lambda cents: Decimal(cents) / 100)
WEIGHTS = st.lists(st.decimals(0, 10**6, places=3), min_size=1, max_size=12).filter(any)

# Exactly half a cent goes away from zero. 2.665 and 2.675 are the two on which Python's own
# defaults differ: half-even gives 2.66, and the float 2.675 rounds down to 2.67.
ROUNDED = [
    ("2.665", "2.67"),
    ("2.675", "2.68"),
    ("-2.665", "-2.67"),
    ("2.6649", "2.66"),
    ("0.005", "0.01"),
    ("0.0049", "0.00"),
    ("-0.004", "0.00"),
    ("1E+3", "1000.00"),
]


@pytest.mark.parametrize(("exact", "cents"), ROUNDED)
def test_amounts_are_rounded_half_up_to_the_cent(exact, cents):
    assert str(money(Decimal(exact))) == cents


def test_unit_prices_have_four_places_half_up():
    assert str(unit_price(Decimal("3.22375"))) == "3.2238"
    assert str(unit_price(Decimal("0.00005"))) == "0.0001"


def test_rounding_does_not_follow_the_rounding_mode_of_its_caller():
    with localcontext(rounding="ROUND_DOWN"):
        assert money(Decimal("2.669")) == Decimal("2.67")


@pytest.mark.parametrize("function", [money, unit_price, format_money])
@pytest.mark.parametrize("value", [1.25, 3, "1.25", None, True])
def test_what_is_not_a_decimal_is_refused(function, value):
    with pytest.raises(TypeError, match="is a Decimal, not"):
        function(value)


@pytest.mark.parametrize("function", [money, unit_price, format_money])
@pytest.mark.parametrize("value", ["NaN", "sNaN", "Infinity", "-Infinity"])
def test_what_is_not_finite_is_refused(function, value):
    with pytest.raises(ValueError, match="finite"):
        function(Decimal(value))


def test_an_amount_too_large_for_cents_is_refused():
    with pytest.raises(ValueError, match="too large"):
        money(Decimal("1E+40"))


@unhurried
@given(AMOUNTS)
def test_rounding_moves_an_amount_by_half_a_cent_at_most_and_only_once(amount):
    assert abs(money(amount) - amount) <= Decimal("0.005")
    assert money(money(amount)) == money(amount)
    assert money(-amount) == -money(amount)


@pytest.mark.parametrize(
    ("amount", "currency", "text"),
    [
        ("0", "USD", "$0.00"),
        ("1234567.5", "USD", "$1,234,567.50"),
        ("-1234.5", "USD", "-$1,234.50"),
        ("12", "EUR", "€12.00"),
        ("12", "CHF", "CHF 12.00"),
    ],
)
def test_amounts_are_printed_with_symbol_and_thousands(amount, currency, text):
    assert format_money(Decimal(amount), currency) == text


def test_dollars_are_the_default_and_unit_prices_print_four_places():
    assert format_money(Decimal("0.35")) == "$0.35"
    assert format_money(Decimal("0.3461"), places=4) == "$0.3461"


@pytest.mark.parametrize(("amount", "places"), [("0.345", 2), ("0.34567", 4)])
def test_an_amount_with_hidden_places_is_not_printed(amount, places):
    with pytest.raises(ValueError, match="more than"):
        format_money(Decimal(amount), places=places)


def test_other_numbers_of_places_are_refused():
    with pytest.raises(ValueError, match="2 or 4 places"):
        format_money(Decimal(1), places=0)


@pytest.mark.parametrize(
    ("amount", "weights", "shares"),
    [
        # 33.333.. each; one cent is left and all remainders are equal: the first gets it.
        ("100.00", "1 1 1", "33.34 33.33 33.33"),
        # 1.6666, 3.3333, 5.0000 -> 1.66 + 3.33 + 5.00 = 9.99; .6666 is the largest remainder.
        ("10.00", "1 2 3", "1.67 3.33 5.00"),
        # .3333 and .6666: the larger remainder comes second.
        ("1.00", "1 2", "0.33 0.67"),
        ("0.01", "0 5", "0.00 0.01"),
        ("0.00", "2 5", "0.00 0.00"),
    ],
)
def test_shares_follow_the_weights_by_largest_remainder(amount, weights, shares):
    split = split_money(Decimal(amount), [Decimal(weight) for weight in weights.split()])
    assert split == tuple(Decimal(share) for share in shares.split())


@unhurried
@given(CENTS, WEIGHTS)
def test_shares_add_up_and_are_within_a_cent_of_exact(amount, weights):
    shares = split_money(amount, weights)
    assert sum(shares) == amount
    for share, weight in zip(shares, weights, strict=True):
        assert abs(share - amount * weight / sum(weights)) <= Decimal("0.01")


@pytest.mark.parametrize(
    ("amount", "weights"),
    [("-1.00", ["1"]), ("1.005", ["1"]), ("1.00", ["0", "0"]), ("1.00", ["2", "-1"]), ("1.00", [])],
)
def test_what_cannot_be_split_is_refused(amount, weights):
    with pytest.raises(ValueError, match=r"split"):
        split_money(Decimal(amount), [Decimal(weight) for weight in weights])
