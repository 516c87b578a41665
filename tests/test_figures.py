"""Figures for a person: rounded once, half up, in any locale and either system of units."""

import datetime as dt
import math
from decimal import ROUND_HALF_UP, Decimal

import babel
import pytest
from babel.dates import format_date
from babel.numbers import format_decimal, format_percent
from django.template import Context, Template
from hypothesis import given
from hypothesis import strategies as st

from blendshop.figures import units
from blendshop.figures.locales import LOCALES
from blendshop.figures.readers import house, read_in, reader
from blendshop.figures.writing import Figures, step_places
from formulas.engine import units as engine_units

US = Figures()
METRIC = Figures(units=units.METRIC)
SPANISH = Figures(locale=LOCALES["es"])
finite = st.floats(allow_nan=False, allow_infinity=False, min_value=-1e15, max_value=1e15)
by_locale = pytest.mark.parametrize("tag", LOCALES)


# --- Rounding ----------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("value", "places", "printed"),
    [
        (2.675, 2, "2.68"),  # the nearest double is 2.67499999999999982
        (0.125, 2, "0.13"),  # a tie, which half to even would print as 0.12
        (2.5, 0, "3"),
        (1234567.5, 0, "1,234,568"),
        (999.95, 1, "1,000.0"),
        (-0.04, 1, "0.0"),
        (-0.05, 1, "-0.1"),
        (-1234.5, 0, "-1,235"),
        (1e21, 0, "1,000,000,000,000,000,000,000"),
        (1e-7, 2, "0.00"),
        (10, 1, "10.0"),
        (
            Decimal("12345678901234567890123456789.565"),
            1,
            "12,345,678,901,234,567,890,123,456,789.6",
        ),
    ],
)
def test_a_number_is_rounded_half_up_from_its_shortest_decimal(value, places, printed):
    assert US.number(value, places) == printed


@given(finite, st.integers(0, 6))
def test_every_number_agrees_with_decimal(value, places):
    exact = Decimal(repr(value)).quantize(Decimal(1).scaleb(-places), rounding=ROUND_HALF_UP)
    written = US.number(value, places)
    assert Decimal(written.replace(",", "")) == exact
    assert "e" not in written.lower()
    assert written.startswith("-") == (exact < 0)


@pytest.mark.parametrize(
    ("value", "digits", "printed"),
    [
        (12.34, 6, "12.34"),
        (0.05, 6, "0.05"),
        (68.0, 6, "68"),
        (0.000012345, 4, "0.00001235"),
        (1234567.0, 6, "1234570"),
        (24.965, 4, "24.97"),
        (0.0, 4, "0"),
        (-0.0, 4, "0"),
    ],
)
def test_significant_digits_have_no_exponent_and_no_idle_zeros(value, digits, printed):
    assert US.significant(value, digits) == printed


@given(st.floats(1e-4, 9e5))
def test_significant_digits_keep_the_value(value):
    written = float(US.significant(value, 4).replace(",", ""))
    assert math.isclose(written, value, rel_tol=5.01e-4)


def test_a_weighed_mass_keeps_every_digit_that_counts():
    texts = ("44000", "1234.500", "0.125", "-10", "0.000", "1E+4")
    assert [US.every_digit(Decimal(text)) for text in texts] == [
        "44,000",
        "1,234.5",
        "0.125",
        "-10",
        "0",
        "10,000",
    ]
    assert METRIC.weighed(Decimal("1204.500")) == "1,204.5 lb"  # the scale shows pounds


@pytest.mark.parametrize(("step", "places"), [(5, 0), (1.0, 0), (0.5, 1), (0.25, 2), (10.0, 0)])
def test_a_weight_shows_as_many_places_as_the_scale(step, places):
    assert step_places(step) == places


@pytest.mark.parametrize(
    ("pct", "printed"), [(24.04, "24.0%"), (0.125, "0.13%"), (0.0005, "0.0005%"), (0.0, "0%")]
)
def test_contents_keep_more_places_where_they_are_small(pct, printed):
    assert US.content(pct) == printed


def test_a_guarantee_keeps_the_digits_it_was_given():
    assert US.guarantee(Decimal("0.0005")) == "0.0005%"
    assert US.guarantee(Decimal("24.00")) == "24.00%"
    with pytest.raises(TypeError, match="not a float"):
        US.guarantee(24.0)


def test_a_unit_price_shows_cents_or_four_places():
    assert US.unit_price(Decimal("1.7400"), "USD") == "$1.74"
    assert US.unit_price(Decimal("6.4151"), "USD") == "$6.4151"
    with pytest.raises(TypeError, match="not a float"):
        US.unit_price(1.74, "USD")


def test_money_is_never_rounded_again():
    assert US.money(Decimal("-1234.50"), "USD") == "-$1,234.50"
    with pytest.raises(ValueError, match="more than 2 places"):
        US.money(Decimal("1.005"), "USD")


@pytest.mark.parametrize("wrong", ["12", None, True, 1j])
@pytest.mark.parametrize("method", ["number", "percent", "mass", "density", "significant"])
def test_what_is_no_number_is_refused(method, wrong):
    with pytest.raises(TypeError, match="A figure is a number"):
        getattr(US, method)(wrong, 1)


@pytest.mark.parametrize("wrong", [math.nan, math.inf, Decimal("NaN")])
def test_what_is_not_finite_is_refused(wrong):
    with pytest.raises(ValueError, match="finite"):
        US.number(wrong, 1)


def test_a_float_is_no_weighed_mass():
    with pytest.raises(TypeError, match="no last digit"):
        US.weighed(0.1)


# --- Locales: against CLDR, as Babel carries it ------------------------------------------------
@by_locale
@pytest.mark.parametrize("value", ["0.5", "12.25", "1234.5", "12345.25", "-9876543.21"])
def test_marks_are_those_of_cldr(tag, value):
    locale = babel.Locale.parse(tag, sep="-")
    number = Decimal(value)
    figures = Figures(locale=LOCALES[tag])
    # Babel does not apply minimumGroupingDigits, which CLDR sets to 2 for "es".
    is_grouped = abs(number) >= 10 ** (2 + LOCALES[tag].min_grouping)
    want = format_decimal(number, "#,##0.00", locale=locale, group_separator=is_grouped)
    assert figures.number(number, 2) == want
    assert figures.percent(number, 2).replace(figures.number(number, 2), "") == format_percent(
        Decimal("0.5"), locale=locale
    ).replace("50", "")


@by_locale
@pytest.mark.parametrize("month", range(1, 13))
def test_dates_are_those_of_cldr(tag, month):
    day = dt.date(2026, month, month)
    locale = babel.Locale.parse(tag, sep="-")
    figures = Figures(locale=LOCALES[tag])
    assert figures.date(day) == format_date(day, "long", locale=locale)
    full = format_date(day, "full", locale=locale)
    year = full.removeprefix(figures.weekday(day))
    assert year.replace("2026", "") in (", ", " de ")


def test_spanish_marks_reach_money_and_quantities():
    assert SPANISH.money(Decimal("12345.50"), "USD") == "$12.345,50"
    assert SPANISH.mass(12345.5) == "12.345,5 lb"
    assert SPANISH.number(1234.5, 1) == "1234,5"


# --- Units -------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("written", "printed"),
    [
        # By hand from NIST SP 811, appendix B.8.
        (METRIC.mass(1), "0.5 kg"),
        (METRIC.mass(2204.6226218, 2), "1,000.00 kg"),
        (METRIC.volume(265), "1,003.1 L"),  # 265 x 3.785411784 = 1003.134
        (METRIC.density(8.345404), "1.000 kg/L"),  # 1 kg/L is 8.345404 lb/gal
        (METRIC.rate(1), "4.9 g/m²"),  # 453.59237 g on 92.90304 m² = 4.882
        (METRIC.area(43_560, 4), "0.4047 ha"),  # an acre is 4046.856 m² (SP 811, B.8: 4046.873)
        (US.area(108_900), "2.50 acre"),
        (METRIC.read_weight(Decimal("1204.500")), "546.4 kg"),
        (US.read_weight(Decimal("1204.500")), "1,204.5 lb"),
        (METRIC.temperature(68), "20 °C"),
        (METRIC.temperature(60), "15.6 °C"),
        (METRIC.temperature(-40), "-40 °C"),
        (METRIC.weighed_number(Decimal("2749.5")), "1,247.2"),  # x 0.45359237 = 1247.152
        (METRIC.price_per_volume(Decimal("6.4150"), "USD"), "$1.6947"),  # / 3.785411784
        (METRIC.price_per_mass(Decimal("2.48"), "USD"), "$5.4675"),  # / 0.45359237
        (METRIC.price_per_area(Decimal("1.74"), "USD"), "$1.8729"),  # 92.90304 m² to 100 m²
        (US.weighed_number(Decimal("2749.50")), "2,749.5"),
        (US.price_per_volume(Decimal("6.4150"), "USD"), "$6.4150"),
        (US.price_per_mass(Decimal("2.48"), "USD"), "$2.48"),
        (US.mass(1204.55), "1,204.6 lb"),
        (US.volume(265, 0), "265 gal"),
        (US.density(10.705), "10.71 lb/gal"),
        (US.rate(0.9), "0.90 lb per 1,000 sq ft"),
        (US.temperature(68.0), "68 °F"),
    ],
)
def test_a_quantity_is_converted_exactly_and_rounded_once(written, printed):
    assert written == printed


def test_the_engine_counts_in_the_same_units():
    assert float(units.KG_PER_LB) == engine_units.KG_PER_LB
    assert float(units.L_PER_GAL) == engine_units.L_PER_GAL
    assert units.SQFT_PER_RATE_AREA == engine_units.SQFT_PER_RATE_AREA


# --- Page and paper ----------------------------------------------------------------------------
FILTERS = "{% load plant_format %}{{ value|FILTER }}"
VALUES = (0.0, 0.05, 0.125, 2.675, 10.705, 999.95, 1234.5, 44000.25, -0.04)


def on_page(filter_text, value):
    return Template(FILTERS.replace("FILTER", filter_text)).render(Context({"value": value}))


@pytest.mark.parametrize("value", VALUES)
@pytest.mark.parametrize("places", [0, 1, 2, 3])
def test_page_and_paper_print_a_quantity_alike(value, places):
    paper = house()
    assert on_page(f"pounds:{places}", value) == paper.mass(value, places).removesuffix(" lb")
    assert on_page(f"gallons:{places}", value) == paper.volume(value, places).removesuffix(" gal")
    assert on_page(f"percent:{places}", value) == paper.percent(value, places).removesuffix("%")
    assert on_page(f"figure:{places}", value) == paper.number(value, places)


@pytest.mark.parametrize("text", ["0.00", "2.50", "1234.50", "-17.25"])
def test_page_and_paper_print_money_alike(text):
    assert on_page("money", Decimal(text)) == house().money(Decimal(text), "USD")
    assert on_page("unit_price", Decimal(text)) == house().unit_price(Decimal(text), "USD")
    assert on_page("unit_price", Decimal("6.4151")) == "$6.4151"
    assert on_page("lb", Decimal(text)) == house().every_digit(Decimal(text))


def test_a_page_follows_its_reader_and_the_house_stays_as_it_is():
    with read_in(SPANISH):
        assert on_page("pounds:1", 12345.5) == "12.345,5"
        assert reader() is SPANISH
        assert house() == US
    assert reader() == US


@pytest.mark.parametrize("filter_text", ["money", "unit_price", "percent", "pounds", "figure"])
def test_a_page_refuses_what_is_no_number(filter_text):
    with pytest.raises(TypeError):
        on_page(filter_text, "12")
