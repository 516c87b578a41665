"""Tank loads of an area and what a nozzle has to give."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from formulas.engine.field.nozzle_check import (
    BOOM_CONSTANT,
    boom_check,
    gun_check,
    ounce_course,
)
from formulas.engine.field.tank_loads import tank_loads
from formulas.engine.problem import BadProblem


def loads(area=250_000.0, tank=200.0, product=0.25, carrier=2.0):
    return tank_loads(
        area_sqft=area,
        tank_gal=tank,
        product_gal_per_1000sqft=product,
        carrier_gal_per_1000sqft=carrier,
    )


def test_an_area_is_full_tanks_and_a_last_part_tank():
    # By hand: 250 x 2 = 500 gal of spray, two tanks of 200 and 100 gal more; 1/8 is product.
    found = loads()
    assert found.full_tanks == 2
    assert (found.full.product_gal, found.full.water_gal) == (25.0, 175.0)
    assert found.full.area_sqft == pytest.approx(100_000)
    assert found.last.spray_gal == pytest.approx(100)
    assert (found.last.product_gal, found.last.water_gal) == pytest.approx((12.5, 87.5))
    assert found.last.area_sqft == pytest.approx(50_000)


def test_an_area_that_ends_with_a_full_tank_has_no_last_load_and_a_small_one_no_full_tank():
    assert loads(area=300_000.0).last is None
    assert loads(area=300_000.0).full_tanks == 3
    small = loads(area=8_000.0)
    assert small.full_tanks == 0
    assert small.last.spray_gal == pytest.approx(16)


@settings(max_examples=15)
@given(
    area=st.floats(500, 5e6),
    tank=st.floats(2, 1000),
    product=st.floats(0.01, 0.9),
    carrier=st.floats(1, 5),
)
def test_the_loads_together_are_the_area_and_its_product(area, tank, product, carrier):
    found = loads(area, tank, product, carrier)
    last = 0.0 if found.last is None else found.last.area_sqft
    assert found.full_tanks * found.full.area_sqft + last == pytest.approx(area)
    assert found.product_gal == pytest.approx(area / 1000 * product)
    assert found.last is None or found.last.spray_gal < tank


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"area": 0.0}, "area_sqft"),
        ({"tank": float("nan")}, "tank_gal"),
        ({"product": 3.0}, "carrier_gal_per_1000sqft"),
    ],
)
def test_what_cannot_be_dealt_out_names_its_figure(wrong, field):
    with pytest.raises(BadProblem) as bad:
        loads(**wrong)
    assert [error.field for error in bad.value.errors] == [field]


def test_a_boom_is_checked_by_the_5940_method():
    # Oklahoma State University, sprayer calibration: 0.79 gal a minute from each nozzle at 3 mph
    # and 18 in are 5,940 x 0.79 / (3 x 18) = 86.9 gal an acre.
    assert pytest.approx(5_940) == BOOM_CONSTANT
    check = boom_check(
        carrier_gal_per_1000sqft=86.9 / 43.56, nozzle_spacing_in=18, speed_mph=3, catch_seconds=60
    )
    assert check.flow_gal_per_min == pytest.approx(0.79, abs=0.001)
    assert check.catch_fl_oz == pytest.approx(101, abs=0.2)  # ounces in a minute, as caught there
    assert (check.least_fl_oz, check.most_fl_oz) == pytest.approx((91.0, 111.2), abs=0.2)


@pytest.mark.parametrize(
    ("spacing_in", "feet"), [(30, 136), (20, 204), (18, 227), (16, 255), (14, 291), (10, 408)]
)
def test_the_ounce_course_is_as_long_as_the_table_of_the_extension_says(spacing_in, feet):
    # LSU AgCenter, Ounces Equal Gallons: length for 340 sq ft by nozzle spacing, in whole feet.
    course = ounce_course(carrier_gal_per_1000sqft=1, nozzle_spacing_in=spacing_in, speed_mph=3)
    assert course.course_ft == pytest.approx(feet, abs=1)
    # Both methods ask the same of the nozzle.
    check = boom_check(
        carrier_gal_per_1000sqft=1,
        nozzle_spacing_in=spacing_in,
        speed_mph=3,
        catch_seconds=course.course_seconds,
    )
    assert check.catch_fl_oz == pytest.approx(course.catch_fl_oz)


def test_a_gun_gives_the_spray_volume_in_the_time_of_1000_sq_ft():
    # NC State Extension, spray gun: 5.25 gal in 78 seconds are 5.25 gal per 1,000 sq ft.
    check = gun_check(carrier_gal_per_1000sqft=5.25, seconds_per_1000sqft=78, catch_seconds=78)
    assert check.catch_fl_oz == pytest.approx(5.25 * 128)
    assert check.flow_gal_per_min == pytest.approx(5.25 / 78 * 60)
    with pytest.raises(BadProblem):
        gun_check(carrier_gal_per_1000sqft=2, seconds_per_1000sqft=0)
