"""No stock is asked for in less than its scale can weigh, unless somebody says so."""

import pytest

from blendshop.accounts.models import User
from orders.blend_page.page_state import PageState, state_of
from orders.blend_page.traces import smallest_charge_of
from orders.models import Tank
from tests.orders.blend_page.blend_page_cases import WISH, form_from

#: So little iron that 0.08 % of the chelate would do.
TRACE = WISH | {"Fe_min": "0.0035"}


def state(user: User, typed: dict[str, str]) -> PageState:
    return state_of(form_from(user, typed))


@pytest.mark.parametrize(
    ("scales", "gal", "pct"),
    [
        # 20 divisions of class III (NIST Handbook 44, sec. 2.20, table 8), 8.337 lb/gal.
        ({"scale_step_lb": 1.0}, 265, 0.91),
        ({"scale_step_lb": 1.0, "fine_step_lb": 0.1, "fine_max_lb": 60.0}, 265, 0.091),
        ({"scale_step_lb": 1.0, "fine_step_lb": 0.1, "fine_max_lb": 60.0}, 1000, 0.024),
        ({"scale_step_lb": 0.1, "scale_class": "III L"}, 265, 0.23),
        ({"scale_step_lb": 20.0}, 265, 1.0),
    ],
)
def test_it_is_what_the_recommended_load_of_the_scale_is_of_the_order(
    scales: dict[str, float], gal: float, pct: float
) -> None:
    assert smallest_charge_of(Tank(name="A", capacity_gal=1000, **scales), gal) == pct


def test_a_page_without_a_word_about_it_asks_for_no_trace(rep: User) -> None:
    plain, typed = state(rep, TRACE | {"smallest_charge": "0"}), state(rep, TRACE)
    assert plain.blend is not None
    assert typed.blend is not None
    assert min(line.pct for line in plain.blend.recipe) < 0.9
    assert min(line.pct for line in typed.blend.recipe) >= 0.9
    assert typed.wish is not None
    assert typed.wish.wish.smallest_charge_pct == 0.91


def test_it_makes_no_wish_impossible(rep: User) -> None:
    """Iron in a window that only a trace of its stock can meet."""
    narrow = WISH | {"Fe_min": "0.003", "Fe_max": "0.004"}
    found = state(rep, narrow)
    assert found.status == "solved"
    assert found.wish is not None
    assert found.wish.wish.smallest_charge_pct is None


def test_shares_that_are_typed_stay_as_they_are(rep: User) -> None:
    typed = {
        "mode": "recipe",
        "recipe_code_0": "UAN",
        "recipe_pct_0": "99.96",
        "recipe_code_1": "KAC",
        "recipe_pct_1": "0.04",
    }
    found = state(rep, typed)
    assert found.blend is not None
    assert found.blend.shares_pct == {"UAN": 99.96, "KAC": 0.04}
