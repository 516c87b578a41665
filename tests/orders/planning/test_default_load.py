"""In which tank a blend is thought to be made before anybody plans it."""

from decimal import Decimal

import pytest

from blendshop.errors import BadInput
from formulas.answers.wish import Wish
from formulas.engine.plant.load import FineScale, LoadScale
from formulas.engine_bridge import load_catalogue
from orders.frozen.load_plan import LoadPromise
from orders.models import Tank
from orders.planning.default_load import default_load, default_loads, promised_problem, tanks_in_use
from tests.factories import TankFactory, today

pytestmark = pytest.mark.django_db

NOTHING = LoadPromise(
    minima_pct={}, slow_release_min_pct=None, maxima_pct={}, slow_release_max_pct=None
)


@pytest.fixture
def tanks():
    TankFactory(name="Large", capacity_gal=1500, smallest_gal=250, scale_step_lb=2.0)
    TankFactory(name="Small", capacity_gal=600, smallest_gal=40, scale_step_lb=1.0)
    TankFactory(name="Out of use", capacity_gal=550, smallest_gal=0, active=False)
    return tanks_in_use()


@pytest.mark.parametrize(
    ("asked_gal", "tank", "loads", "each_gal"),
    [
        ("530", "Small", 1, "530"),
        ("600", "Small", 1, "600"),  # to the brim
        ("601", "Large", 1, "601"),
        ("1500", "Large", 1, "1500"),
        ("2650", "Large", 2, "1325"),
        ("4000", "Large", 3, "1333.34"),  # never a drop short together
        ("30", "Small", 1, "30"),
    ],
)
def test_the_smallest_tank_that_holds_it_else_equal_loads_of_the_largest(
    tanks, asked_gal, tank, loads, each_gal
):
    load = default_load(Decimal(asked_gal), tanks)
    assert (load.tank.name, load.loads, load.volume_gal) == (tank, loads, Decimal(each_gal))
    assert load.loads * load.volume_gal >= Decimal(asked_gal)
    assert load.is_below_smallest == (asked_gal == "30")


def test_a_tank_that_can_blend_so_little_goes_before_a_smaller_one_that_cannot():
    TankFactory(name="Wide", capacity_gal=500, smallest_gal=200)
    TankFactory(name="Deep", capacity_gal=800, smallest_gal=50)
    assert default_load(Decimal(100), tanks_in_use()).tank.name == "Deep"
    assert default_load(Decimal(300), tanks_in_use()).tank.name == "Wide"


def test_every_tank_in_use_comes_after_the_default_load_for_where_it_cannot_weigh(tanks):
    loads = default_loads(Decimal(530), tanks)
    assert [(load.tank.name, load.loads) for load in loads] == [("Small", 1), ("Large", 1)]
    split = default_loads(Decimal(601), tanks)
    assert [(load.tank.name, load.loads) for load in split] == [("Large", 1), ("Small", 2)]
    assert split[1].volume_gal == Decimal("300.5")


def test_without_a_tank_in_use_it_is_said_who_sets_one(tanks):
    Tank.objects.update(active=False)
    with pytest.raises(BadInput, match="No blending tank is in use: the office sets one"):
        tanks_in_use()


def test_the_question_is_of_an_empty_tank_on_its_own_scales(tanks):
    Tank.objects.filter(name="Small").update(tolerance_pct=0.3, fine_step_lb=0.1, fine_max_lb=100.0)
    load = default_load(Decimal(530), tanks_in_use())
    question = load.question(promised_problem(NOTHING, Wish(), (), ()), None, printed_pct={})
    assert question.scale == LoadScale(1.0, FineScale(0.1, 100.0))
    assert (question.volume_gal, question.capacity_gal) == (530.0, 600.0)
    assert question.tolerance_pct == 0.3
    assert question.heel is None


def test_a_load_keeps_wished_limits_on_stocks_and_fixed_shares_but_no_typed_recipe(shop):
    stocks = load_catalogue(today()).stocks
    limited = {
        "stock_limits": [{"code": "TRZ", "min_pct": 10}, {"code": "GONE", "max_pct": 5}],
        "recipe": [{"code": "UAN", "pct": 50}],
    }
    problem = promised_problem(NOTHING, Wish.from_json(limited), stocks, ())
    assert [(x.code, x.min_pct, x.max_pct) for x in problem.stock_limits] == [
        ("TRZ", 10, None),
        ("UAN", 50, 50),
    ]
    typed = {"recipe": [{"code": "UAN", "pct": 50}, {"code": "WATER", "pct": 50}]}
    assert promised_problem(NOTHING, Wish.from_json(typed), stocks, ()).stock_limits == ()
