"""The blend page live and as a whole: sheet, chart, links, queries."""

import re
from typing import Any

import pytest
from django.urls import reverse

from blendshop.accounts.models import User
from formulas.models import BaseStock, Trait
from tests.orders.blend_page.blend_page_cases import (
    HTMX,
    OUT_OF_REACH,
    WISH,
    SignIn,
    answer_text,
    page_text,
    shown_value,
)


def test_the_spray_sheet_follows_rate_tank_and_heat(rep: User, signed_in: SignIn) -> None:
    client = signed_in(rep)
    mild = answer_text(client, WISH | {"n_rate": "0.7", "carrier": "2", "tank": "200", "air": "75"})
    assert "fl oz per 1000 sq ft" in mild
    assert "100,000 sq ft" in mild  # 200 gal at 2 gal per 1000 sq ft
    # The catalogue's slow stock is not known to be triazone: its nitrogen counts in full.
    assert "Burn risk raised: 0.35 lb of quick N per gallon" in mild
    assert "Salt load" in mild
    less = answer_text(client, WISH | {"n_rate": "0.4", "carrier": "2", "tank": "200", "air": "75"})
    assert "Burn risk low" in less
    hot = answer_text(client, WISH | {"n_rate": "1", "carrier": "1", "tank": "200", "air": "95"})
    assert "Burn risk high" in hot
    assert "Agnew and Moore 1989" in hot


def test_the_fragment_is_part_of_the_page(rep: User, signed_in: SignIn) -> None:
    client = signed_in(rep)
    fragment = answer_text(client, WISH)
    start = fragment.index('<section id="answer"')
    answer = fragment[start : fragment.index("</section>\n", start)]
    assert "".join(answer.split()) in "".join(page_text(client, WISH).split())


def test_a_link_to_a_wish_shows_the_same_answer(rep: User, signed_in: SignIn) -> None:
    client = signed_in(rep)
    response = client.post(reverse("blend_answer"), WISH, headers=HTMX)
    html = client.get(response["HX-Replace-Url"]).content.decode()
    assert 'class="grade">24-0-2' in html
    assert shown_value(html, "slow_min") == "50"
    assert response["HX-Replace-Url"] == "/blend/?N_min=24&slow_min=50&K2O_min=2"


def test_an_empty_page_says_how_to_begin(rep: User, signed_in: SignIn) -> None:
    html = signed_in(rep).get(reverse("blend_page")).content.decode()
    assert "What should be in it?" in html
    assert re.search(r'<input[^>]*name="N_min"[^>]*autofocus', html)


@pytest.mark.parametrize(
    ("add", "more", "field"),
    [
        ("nutrient", "Zn", "Zn_min"),
        ("recipe", "", "recipe_pct_3"),
        ("limit", "", "limit_min_1"),
    ],
)
def test_a_row_can_be_added_without_losing_anything(
    rep: User, signed_in: SignIn, add: str, more: str, field: str
) -> None:
    client = signed_in(rep)
    assert f'name="{field}"' not in page_text(client, WISH)
    html = page_text(client, WISH | {"add": add, "more": more})
    assert shown_value(html, field) == ""
    assert shown_value(html, "N_min") == "24"
    assert html.count("autofocus") == 1


def test_the_chart_is_asked_for_by_itself_and_has_its_table(rep: User, signed_in: SignIn) -> None:
    html = answer_text(signed_in(rep), WISH | {"part": "curve"})
    assert "<svg" in html
    assert "(this blend)" in html
    rows = re.findall(r'<th scope="row">([\d.]+)</th>', html)
    assert len(rows) == 11
    assert rows[0] == "0.0"


def test_no_page_holds_inline_style_or_script(rep: User, signed_in: SignIn) -> None:
    client = signed_in(rep)
    for typed in (WISH | {"part": "curve"}, OUT_OF_REACH, {"N_min": "x"}):
        html = page_text(client, typed)
        assert not re.search(r"\sstyle=|<style|\son\w+=|<script(?![^>]*\ssrc=)", html)


def test_the_number_of_queries_does_not_grow_with_the_catalogue(
    rep: User, signed_in: SignIn, django_assert_max_num_queries: Any
) -> None:
    client = signed_in(rep)
    with django_assert_max_num_queries(60):
        answer_text(client, WISH)


def test_a_stock_known_as_triazone_spares_the_leaf_on_the_page(
    rep: User, signed_in: SignIn
) -> None:
    typed = WISH | {"n_rate": "0.7", "carrier": "2", "tank": "200", "air": "75"}
    client = signed_in(rep)
    assert "Burn risk raised: 0.35 lb" in answer_text(client, typed)
    slow = BaseStock.objects.get(analysis_figures__key="N.slow")
    slow.traits.add(Trait.objects.get_or_create(code="triazone")[0])
    assert "Burn risk low: 0.2" in answer_text(client, typed)
