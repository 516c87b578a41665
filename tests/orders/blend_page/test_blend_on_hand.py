"""The blend page limited by the tanks, and its panel of jars and cold."""

from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.urls import reverse

from formulas.answers.wish import StockLimit
from formulas.jar_tests.actions import Jar, register_jar_test
from formulas.models import BaseStock
from orders.inventory.on_hand import OnHand, with_on_hand
from tests.factories import today
from tests.orders.inventory.stock_cases import make_lot

WISH = {"N_min": "24", "K2O_min": "3", "slow_min": "50", "package": "tote-265", "quantity": "4"}


def asked(client: Any, **more: str) -> Any:
    return client.get(reverse("blend_page"), WISH | more).context["state"]


def stock_up(by: Any, **lb: float) -> None:
    for code, mass in lb.items():
        make_lot(BaseStock.objects.get(code=code), by, round(Decimal(mass), 3))


def test_the_tanks_bound_the_recipe_and_the_page_says_which_stock_is_used_up(
    shop, rep, formulator, signed_in
):
    client = signed_in(rep)
    free = {row.code: row for row in asked(client).blend.recipe}
    least = free["UAN"].lb * 0.4
    stock_up(formulator, UAN=least, TRZ=40_000, KAC=10_000)
    found = asked(client, on_hand="on")
    taken = {row.code: row.lb for row in found.blend.recipe}
    assert taken["UAN"] <= least + 1e-6
    assert taken["UAN"] > least * 0.9
    assert [words.split(",")[0] for words in found.used_up] == ["urea ammonium nitrate solution"]
    page = client.get(reverse("blend_page"), WISH | {"on_hand": "on"}).content.decode()
    assert "Takes all there is of urea ammonium nitrate solution" in page


def test_without_the_tick_the_tanks_bound_nothing(shop, rep, formulator, signed_in):
    client = signed_in(rep)
    before = {row.code: row.pct for row in asked(client).blend.recipe}
    stock_up(formulator, UAN=10, TRZ=40_000, KAC=10_000)
    assert {row.code: row.pct for row in asked(client).blend.recipe} == before


def test_a_stock_of_which_nothing_is_free_is_left_out_and_named(shop, rep, formulator, signed_in):
    stock_up(formulator, UAN=40_000, TRZ=40_000)
    found = asked(signed_in(rep), on_hand="on")
    assert found.status == "out_of_reach"
    assert found.on_hand.absent_words == (
        "ferrous sulfate solution",
        "potassium acetate solution",
    )


def test_a_plant_without_lots_is_limited_by_nothing_and_told_so(shop, rep, signed_in):
    page = signed_in(rep).get(reverse("blend_page"), WISH | {"on_hand": "on"})
    assert page.context["state"].status == "solved"
    assert "no lots are received yet" in page.content.decode()


def test_a_customer_neither_sees_the_tick_nor_learns_what_is_in_the_tanks(
    shop, customer, formulator, signed_in
):
    stock_up(formulator, UAN=10)
    page = signed_in(customer).get(reverse("blend_page"), WISH | {"on_hand": "on"})
    assert page.context["state"].status == "solved"
    assert page.context["state"].on_hand is None
    assert "Stock on hand only" not in page.content.decode()


def test_typed_limits_are_tightened_never_loosened():
    tanks = OnHand({"A": 10.0, "B": 20.0, "D": 5.0}, ("C",), {}, keeps_lots=True)
    typed = [StockLimit("A", 2.0, 8.0), StockLimit("B", 1.0), StockLimit("C", None, 3.0)]
    limits, exclude = with_on_hand(tanks, typed, ["D"])
    assert limits == [StockLimit("A", 2.0, 8.0), StockLimit("B", 1.0, 20.0)]
    assert exclude == ["C", "D"]


# ---- in storage


def test_the_panel_answers_for_the_blend_on_the_page(shop, rep, formulator, signed_in):
    client = signed_in(rep)
    url = reverse("blend_storage")
    part = client.post(url, WISH | {"storage_f": "20"}, headers={"HX-Request": "true"})
    text = part.content.decode()
    assert "Do a jar test first." in text
    assert "At 20 °F" in text
    assert "<h1" not in text
    blend = asked(client).blend
    jar = Jar(
        parts={BaseStock.objects.get(code=row.code): row.pct for row in blend.recipe},
        tested_on=today() - timedelta(days=40),
        days=40,
        temperature_f=15,
        outcome="clear",
    )
    register_jar_test(jar=jar, key="panel-jar", acting_user=formulator)
    again = client.post(url, WISH | {"storage_f": "20"}, headers={"HX-Request": "true"})
    assert "Tested." in again.content.decode()
    longer = client.post(
        url, WISH | {"storage_f": "20", "storage_days": "60"}, headers={"HX-Request": "true"}
    )
    assert "stood 20 days too short" in longer.content.decode()


def test_without_javascript_the_panel_is_a_page_with_a_way_back(shop, rep, signed_in):
    page = signed_in(rep).get(reverse("blend_storage"), WISH | {"storage_f": "20"})
    text = page.content.decode()
    assert text.count("<h1") == 1
    assert "Do a jar test first." in text
    assert "storage_f=20" in text


@pytest.mark.parametrize("typed", ["cold", "-500", "nan"])
def test_a_temperature_that_is_none_is_refused_in_words(shop, rep, signed_in, typed):
    part = signed_in(rep).post(
        reverse("blend_storage"), WISH | {"storage_f": typed}, headers={"HX-Request": "true"}
    )
    assert part.context["state"].storage is None
    assert "Down to, °F" in part.content.decode()


def test_without_a_blend_there_is_nothing_to_check(shop, rep, signed_in):
    part = signed_in(rep).post(reverse("blend_storage"), {}, headers={"HX-Request": "true"})
    assert "No blend to check yet." in part.content.decode()


def test_usual_storage_figures_do_not_lengthen_the_link(shop, rep, signed_in):
    client = signed_in(rep)
    assert "storage" not in asked(client).link
    assert "storage_f=20" in asked(client, storage_f="20").link
