"""The blend page: what is typed becomes a question, and a slip is said at its field."""

import re

import pytest
from django.http import QueryDict

from blendshop.accounts.models import User
from orders.blend_page.page_options import load_page_options
from orders.blend_page.page_wish import wish_of
from orders.blend_page.typed_again import fields_of
from orders.blend_page.wish_form import WishForm
from orders.models import Package
from tests.factories import (
    PackageFactory,
    today,
)
from tests.orders.blend_page.blend_page_cases import (
    WISH,
    SignIn,
    answer_text,
    page_text,
    shown_value,
    wish_from,
)


def test_a_wish_becomes_the_body_of_the_contract(rep: User) -> None:
    typed = WISH | {
        "K2O_max": "3.5 %",
        "limit_code_0": "TRZ",
        "limit_max_0": "60",
        "exclude": "FES",
        "smallest_charge": "0.25",
        "most_stocks": "4",
        "quantity": "2",
    }
    assert wish_from(rep, typed).wish.contract_json() == {
        "targets": [
            {"nutrient": "N", "min": 24.0},
            {"nutrient": "K2O", "min": 2.0, "max": 3.5},
        ],
        "slow_release_pct": {"min": 50.0},
        "stock_limits": [{"code": "TRZ", "max_pct": 60.0}],
        "exclude": ["FES"],
        "smallest_charge_pct": 0.25,
        "most_stocks": 4,
        "objective": {"cheapest_per": "gal"},
        "fill": {"volume_gal": 530.0},
    }


def test_strongest_asks_for_the_nutrient_that_was_chosen(rep: User) -> None:
    body = wish_from(
        rep, {"mode": "strongest", "strongest": "K2O", "N_min": "5"}
    ).wish.contract_json()
    assert body["objective"] == {"strongest": "K2O"}
    assert body["targets"] == [{"nutrient": "N", "min": 5.0}]


def test_a_whole_recipe_is_only_looked_at(rep: User) -> None:
    typed = {
        "mode": "recipe",
        "recipe_code_0": "TRZ",
        "recipe_pct_0": "50",
        "recipe_code_1": "UAN",
        "recipe_pct_1": "50",
    }
    assert wish_from(rep, typed).wish.contract_json() == {
        "recipe": [{"code": "TRZ", "pct": 50.0}, {"code": "UAN", "pct": 50.0}],
        "fill": {"volume_gal": 265.0},
    }


def test_the_rest_of_a_part_recipe_is_solved(rep: User) -> None:
    typed = {"mode": "recipe", "recipe_code_0": "TRZ", "recipe_pct_0": "50"}
    assert wish_from(rep, typed).wish.contract_json()["objective"] == {"cheapest_per": "gal"}


def test_shares_typed_under_by_recipe_do_not_leak_into_a_wish(rep: User) -> None:
    typed = WISH | {"recipe_code_0": "TRZ", "recipe_pct_0": "50"}
    assert "recipe" not in wish_from(rep, typed).wish.contract_json()


@pytest.mark.parametrize(
    "typed",
    [
        WISH | {"K2O_max": "3.5", "Zn_min": "0.05"},
        WISH | {"cheapest_per": "lb_N"},
        {"mode": "strongest", "strongest": "N", "slow_max": "40"},
        {"mode": "recipe", "recipe_code_0": "TRZ", "recipe_pct_0": "62.5", "N_min": "20"},
        WISH | {"limit_code_0": "UAN", "limit_min_0": "5", "exclude": "FES", "most_stocks": "3"},
    ],
    ids=["wish", "per pound of nitrogen", "strongest", "recipe", "limits"],
)
def test_a_saved_wish_is_asked_again_unchanged(rep: User, typed: dict[str, str]) -> None:
    wish = wish_from(rep, typed | {"quantity": "3"}).wish
    options = load_page_options(rep, today())
    data = QueryDict(mutable=True)
    for name, values in fields_of(wish, options.packages, options.default_package).items():
        data.setlist(name, values)
    form = WishForm(data, options=options)
    assert form.is_valid(), form.errors
    assert wish_of(form).wish == wish


def test_a_bulk_order_is_filled_by_the_gallon(rep: User) -> None:
    PackageFactory(
        code="bulk",
        name="bulk tanker",
        plural_name="bulk tankers",
        kind=Package.Kind.BULK,
        fill_gal=0,
        tare_lb=0,
        max_gross_lb=None,
        price=0,
    )
    body = wish_from(rep, WISH | {"package": "bulk", "quantity": "1500"}).wish.contract_json()
    assert body["fill"] == {"volume_gal": 1500.0}


@pytest.mark.parametrize(
    ("typed", "field", "words"),
    [
        ({"N_min": "abc"}, "N_min", "Type a number, such as 24 or 3.5."),
        ({"N_min": "nan"}, "N_min", "Type a number, such as 24 or 3.5."),
        ({"N_min": "2,5"}, "N_min", "Write the decimal point as a point, such as 3.5."),
        ({"N_min": "120"}, "N_min", "Between 0 and 100 percent."),
        ({"N_min": "-1"}, "N_min", "Between 0 and 100 percent."),
        ({"K2O_min": "5", "K2O_max": "3"}, "K2O_min", "At least 5 is more than at most 3."),
        ({"slow_min": "60", "slow_max": "50"}, "slow_min", "At least 60 is more than at most 50."),
        ({"quantity": "0"}, "quantity", "At least 1."),
        ({"quantity": ""}, "quantity", "Type a whole number."),
        ({"most_stocks": "2.5"}, "most_stocks", "Type a whole number."),
        ({"limit_min_0": "5"}, "limit_code_0", "Say which stock is limited."),
        ({"limit_code_0": "NOPE"}, "limit_code_0", "This stock cannot be used today"),
        ({"mode": "recipe", "recipe_pct_0": "50"}, "recipe_code_0", "Say which stock"),
        (
            {
                "mode": "recipe",
                "recipe_code_0": "TRZ",
                "recipe_pct_0": "60",
                "recipe_code_1": "UAN",
                "recipe_pct_1": "50",
            },
            "recipe_pct_1",
            "The shares add up to 110 %, more than 100 %.",
        ),
        (
            {
                "mode": "recipe",
                "recipe_code_0": "TRZ",
                "recipe_pct_0": "60",
                "recipe_code_1": "TRZ",
                "recipe_pct_1": "10",
            },
            "recipe_code_1",
            "This stock stands in the recipe twice.",
        ),
    ],
)
def test_a_slip_is_said_at_its_field_and_the_other_fields_keep_their_values(
    rep: User, signed_in: SignIn, typed: dict[str, str], field: str, words: str
) -> None:
    html = page_text(signed_in(rep), {"P2O5_min": "1.25"} | typed)
    place = re.search(rf'id="{field}_error"[^>]*>([^<]*)<', html)
    assert place
    assert words in place.group(1)
    assert shown_value(html, "P2O5_min") == "1.25"


def test_a_slip_in_the_live_answer_is_listed_for_its_field(rep: User, signed_in: SignIn) -> None:
    html = answer_text(signed_in(rep), {"N_min": "abc"})
    assert '<li data-field="N_min">Type a number, such as 24 or 3.5.</li>' in html
    assert 'href="#N_min"' in html


def test_a_refusal_of_the_engine_lands_on_the_field_it_came_from(
    rep: User, signed_in: SignIn
) -> None:
    typed = {
        "mode": "recipe",
        "recipe_code_0": "TRZ",
        "recipe_pct_0": "50",
        "exclude": "TRZ",
        "N_min": "10",
    }
    html = answer_text(signed_in(rep), typed)
    assert re.search(r'<li data-field="recipe_pct_0">TRZ stands under exclude too', html)


def test_a_slip_in_the_spray_sheet_leaves_the_blend_standing(rep: User, signed_in: SignIn) -> None:
    html = answer_text(signed_in(rep), WISH | {"tank": "-3"})
    assert 'class="grade">24-0-2' in html
    assert '<li data-field="tank">Must be above 0.</li>' in html


def test_too_little_water_for_the_product_is_said_at_the_spray_volume(
    rep: User, signed_in: SignIn
) -> None:
    html = answer_text(signed_in(rep), WISH | {"n_rate": "5", "carrier": "0.2"})
    assert re.search(r'<li data-field="carrier">The product alone is', html)
    assert 'class="grade">24-0-2' in html
