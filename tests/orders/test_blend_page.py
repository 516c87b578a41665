"""The blend page: what is typed becomes a question, and each role reads its own answer."""

import re
from collections.abc import Callable
from typing import Any
from urllib.parse import parse_qsl

import pytest
from django.http import QueryDict
from django.test import Client
from django.urls import reverse

from blendshop.accounts.models import Company, User
from formulas.models import Blend, BlendRevision, ParkedWish
from orders.blend_page.desk import load_desk
from orders.blend_page.one_line import read_line
from orders.blend_page.question import Question, fields_of, question_of
from orders.blend_page.wish_form import WishForm
from orders.models import Package
from tests.factories import (
    CompatibilityRuleFactory,
    PackageFactory,
    ShipToFactory,
    TraitFactory,
    make_price_setup,
    make_simple_catalogue,
    today,
)

SignIn = Callable[[User], Client]
#: 24 % N, half of it slow, a little potash: can be made from the test catalogue.
WISH = {"N_min": "24", "slow_min": "50", "K2O_min": "2"}
#: The strongest stock of the catalogue holds 32 % N, so this cannot.
OUT_OF_REACH = {"N_min": "30", "slow_min": "50", "K2O_min": "2"}
HTMX = {"HX-Request": "true"}


@pytest.fixture(autouse=True)
def plant(db: None) -> None:
    make_price_setup()
    make_simple_catalogue()


def _form(user: User, typed: dict[str, str]) -> WishForm:
    data = QueryDict(mutable=True)
    data.update(typed)
    return WishForm(data, desk=load_desk(user, today()))


def _question(user: User, typed: dict[str, str]) -> Question:
    form = _form(user, typed)
    assert form.is_valid(), form.errors
    return question_of(form)


def _answer(client: Client, typed: dict[str, Any], **headers: str) -> str:
    response = client.post(reverse("blend_answer"), typed, headers=headers or HTMX)
    assert response.status_code == 200
    return response.content.decode()


def _page(client: Client, typed: dict[str, Any]) -> str:
    response = client.post(reverse("blend_answer"), typed)
    assert response.status_code == 200
    return response.content.decode()


def _shown(html: str, name: str) -> str:
    """The value an input shows."""
    tag = re.search(rf'<input[^>]*\bname="{name}"[^>]*>', html)
    assert tag, f"no field {name}"
    value = re.search(r'value="([^"]*)"', tag.group())
    return value.group(1) if value else ""


# ------------------------------------------------------------ from what is typed to the question


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
    assert _question(rep, typed).body == {
        "targets": [
            {"nutrient": "N", "min": 24.0},
            {"nutrient": "K2O", "min": 2.0, "max": 3.5},
        ],
        "slow_release_pct": {"min": 50.0},
        "stock_limits": [{"code": "TRZ", "max_pct": 60.0}],
        "exclude": ["FES"],
        "smallest_charge_pct": 0.25,
        "most_stocks": 4,
        "fill": {"volume_gal": 530.0},
    }


def test_strongest_asks_for_the_nutrient_that_was_chosen(rep: User) -> None:
    body = _question(rep, {"mode": "strongest", "strongest": "K2O", "N_min": "5"}).body
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
    assert _question(rep, typed).body == {
        "recipe": [{"code": "TRZ", "pct": 50.0}, {"code": "UAN", "pct": 50.0}],
        "fill": {"volume_gal": 265.0},
    }


def test_the_rest_of_a_part_recipe_is_solved(rep: User) -> None:
    typed = {"mode": "recipe", "recipe_code_0": "TRZ", "recipe_pct_0": "50"}
    assert _question(rep, typed).body["objective"] == "cheapest"


def test_shares_typed_under_by_recipe_do_not_leak_into_a_wish(rep: User) -> None:
    typed = WISH | {"recipe_code_0": "TRZ", "recipe_pct_0": "50"}
    assert "recipe" not in _question(rep, typed).body


@pytest.mark.parametrize(
    "typed",
    [
        WISH | {"K2O_max": "3.5", "Zn_min": "0.05"},
        {"mode": "strongest", "strongest": "N", "slow_max": "40"},
        {"mode": "recipe", "recipe_code_0": "TRZ", "recipe_pct_0": "62.5", "N_min": "20"},
        WISH | {"limit_code_0": "UAN", "limit_min_0": "5", "exclude": "FES", "most_stocks": "3"},
    ],
    ids=["wish", "strongest", "recipe", "limits"],
)
def test_a_saved_wish_is_asked_again_unchanged(rep: User, typed: dict[str, str]) -> None:
    body = _question(rep, typed | {"quantity": "3"}).body
    desk = load_desk(rep, today())
    data = QueryDict(mutable=True)
    for name, values in fields_of(body, desk.packages, desk.default_package).items():
        data.setlist(name, values)
    form = WishForm(data, desk=desk)
    assert form.is_valid(), form.errors
    assert question_of(form).body == body


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
    body = _question(rep, WISH | {"package": "bulk", "quantity": "1500"}).body
    assert body["fill"] == {"volume_gal": 1500.0}


# ------------------------------------------------------------------------------- slips in words


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
    html = _page(signed_in(rep), {"P2O5_min": "1.25"} | typed)
    place = re.search(rf'id="{field}_error"[^>]*>([^<]*)<', html)
    assert place
    assert words in place.group(1)
    assert _shown(html, "P2O5_min") == "1.25"


def test_a_slip_in_the_live_answer_is_listed_for_its_field(rep: User, signed_in: SignIn) -> None:
    html = _answer(signed_in(rep), {"N_min": "abc"})
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
    html = _answer(signed_in(rep), typed)
    assert re.search(r'<li data-field="recipe_pct_0">TRZ stands under exclude too', html)


def test_a_slip_in_the_spray_sheet_leaves_the_blend_standing(rep: User, signed_in: SignIn) -> None:
    html = _answer(signed_in(rep), WISH | {"tank": "-3"})
    assert 'class="grade">24-0-2' in html
    assert '<li data-field="tank">Must be above 0.</li>' in html


def test_too_little_water_for_the_product_is_said_at_the_spray_volume(
    rep: User, signed_in: SignIn
) -> None:
    html = _answer(signed_in(rep), WISH | {"n_rate": "5", "carrier": "0.2"})
    assert re.search(r'<li data-field="carrier">The product alone is', html)
    assert 'class="grade">24-0-2' in html


# --------------------------------------------------------------------------- each role's answer


def test_the_rep_sees_recipe_price_steps_cost_and_what_a_wish_costs(
    rep: User, signed_in: SignIn
) -> None:
    html = _answer(signed_in(rep), WISH)
    for words in (
        "24-0-2",
        "50.0 % of N slow release",
        "urea-triazone solution",
        "Price, step by step",
        "Margin",
        "Shrink",
        "1 % more total nitrogen costs",
        "1 more point of slow release costs",
    ):
        assert words in html


def test_a_customer_sees_prices_and_never_costs_margin_or_steps(
    customer: User, signed_in: SignIn
) -> None:
    client = signed_in(customer)
    pages = [_answer(client, typed) for typed in (WISH, OUT_OF_REACH, WISH | {"part": "curve"})]
    whole = _page(client, WISH | {"part": "curve"})
    for html in (*pages, whole[whole.index('id="desk"') :]):
        for word in ("cost", "margin", "shrink", "step by step"):
            assert word not in html.lower(), word
    assert "per gal" in whole
    assert "Price per 1000 sq ft" in whole


def test_no_amount_of_the_price_steps_reaches_the_customer(
    customer: User, rep: User, signed_in: SignIn
) -> None:
    """The same blend for the same company: the rep's inner amounts stand nowhere."""
    typed = WISH | {"company": str(customer.company_id)}
    rep_html = _answer(signed_in(rep), typed)
    steps = rep_html[rep_html.index("Price, step by step") :].split("</table>")[0]
    amounts = set(re.findall(r"\$[\d,.]+", steps))
    customer_html = _page(signed_in(customer), typed | {"part": "curve"})
    shown = amounts & set(re.findall(r"\$[\d,.]+", customer_html))
    total = re.findall(r"\$[\d,.]+", steps)[-1]
    package = "$120.00"  # a charge the customer may read on a line of its own
    assert shown == {total, package}
    assert len(amounts) > 8


def test_a_customer_sees_no_other_company(
    customer: User, stranger: User, signed_in: SignIn
) -> None:
    ShipToFactory(company=stranger.company, label="Far yard")
    ShipToFactory(company=customer.company, label="Own yard")
    client = signed_in(customer)
    html = _page(client, WISH | {"company": str(stranger.company_id)})
    assert "Own yard" in html
    assert "Far yard" not in html
    assert "Elsewhere Turf" not in html


def test_the_plant_has_no_business_here(plant_worker: User, signed_in: SignIn) -> None:
    client = signed_in(plant_worker)
    assert client.get(reverse("blend_page")).status_code == 403
    assert client.post(reverse("blend_answer"), WISH).status_code == 403
    assert client.post(reverse("blend_save"), {"name": "x"}).status_code == 403


def test_the_price_follows_the_ship_to(rep: User, company: Company, signed_in: SignIn) -> None:
    place = ShipToFactory(company=company)
    client = signed_in(rep)
    picked_up = _answer(client, WISH | {"company": str(company.pk), "ship_to": ""})
    delivered = _answer(client, WISH | {"company": str(company.pk), "ship_to": str(place.pk)})
    assert "picked up at the plant" in picked_up
    assert "truck load" in delivered


def test_choosing_another_customer_brings_its_ship_tos(
    rep: User, company: Company, stranger: User, signed_in: SignIn
) -> None:
    old = ShipToFactory(company=company, label="Old yard")
    ShipToFactory(company=stranger.company, label="New yard")
    typed = WISH | {
        "company": str(stranger.company_id),
        "ship_to": str(old.pk),
        "ship_to_of": str(company.pk),
    }
    html = _answer(signed_in(rep), typed)
    assert 'id="ship-to-line" hx-swap-oob="true"' in html
    assert re.search(r"<option[^>]*selected[^>]*>New yard", html)
    assert "Old yard" not in html


def test_without_a_price_policy_the_blend_still_stands_and_the_page_says_why(
    rep: User, signed_in: SignIn
) -> None:
    Package.objects.update(max_gross_lb=200)
    html = _answer(signed_in(rep), WISH)
    assert 'class="grade">24-0-2' in html
    assert "This cannot be priced" in html


# ------------------------------------------------------------------------------ out of reach


def test_out_of_reach_names_the_conflict_the_reach_and_alternatives(
    rep: User, signed_in: SignIn
) -> None:
    html = _answer(signed_in(rep), OUT_OF_REACH)
    assert "Out of reach" in html
    assert "<li>total nitrogen at least 30 %</li>" in html
    assert "How far each wish could go" in html
    assert html.count("Take this one") >= 2
    assert "/gal</strong>" in html


def test_every_alternative_can_be_taken_without_a_script(rep: User, signed_in: SignIn) -> None:
    client = signed_in(rep)
    takes = re.findall(r'name="take" value="([^"]+)"', _answer(client, OUT_OF_REACH))
    assert takes
    for take in takes:
        html = _page(client, OUT_OF_REACH | {"take": take.replace("&amp;", "&")})
        assert "answer-solved" in html
        changed = QueryDict(take.replace("&amp;", "&"))
        for name, value in changed.items():
            assert _shown(html, name) == value


def test_taking_an_alternative_live_replaces_wish_and_answer(rep: User, signed_in: SignIn) -> None:
    client = signed_in(rep)
    take = re.search(r'name="take" value="([^"]+)"', _answer(client, OUT_OF_REACH))
    assert take
    response = client.post(
        reverse("blend_answer"),
        OUT_OF_REACH | {"take": take.group(1).replace("&amp;", "&")},
        headers=HTMX,
    )
    assert response["HX-Retarget"] == "#desk"
    html = response.content.decode()
    assert 'id="wish-form"' in html
    assert "answer-solved" in html


def test_only_fields_of_the_page_can_be_overtyped_by_an_alternative(
    rep: User, signed_in: SignIn
) -> None:
    html = _page(signed_in(rep), WISH | {"take": "quantity_of_gold=7&N_min=20"})
    assert "quantity_of_gold" not in html
    assert _shown(html, "N_min") == "20"


def test_a_rule_that_stops_a_recipe_is_shown_and_the_recipe_cannot_be_saved(
    rep: User, signed_in: SignIn
) -> None:
    CompatibilityRuleFactory(
        trait_a=TraitFactory(code="urea_triazone"),
        trait_b=TraitFactory(code="unchelated_iron"),
        reason="iron drops out",
    )
    typed = {
        "mode": "recipe",
        "recipe_code_0": "TRZ",
        "recipe_pct_0": "90",
        "recipe_code_1": "FES",
        "recipe_pct_1": "10",
    }
    html = _answer(signed_in(rep), typed)
    assert "Must not be mixed" in html
    assert "iron drops out" in html
    assert re.search(r"<button[^>]*disabled[^>]*>Save and quote", html)


def test_a_jar_test_warning_brings_the_procedure(rep: User, signed_in: SignIn) -> None:
    CompatibilityRuleFactory(
        trait_a=TraitFactory(code="urea_triazone"),
        trait_b=TraitFactory(code="nitrate"),
        effect="jar_test",
        reason="may cloud",
    )
    html = _answer(signed_in(rep), WISH)
    assert "may cloud" in html
    assert "Put on goggles and gloves" in html


# ------------------------------------------------------------------------------ spray sheet


def test_the_spray_sheet_follows_rate_tank_and_heat(rep: User, signed_in: SignIn) -> None:
    client = signed_in(rep)
    mild = _answer(client, WISH | {"n_rate": "0.7", "carrier": "2", "tank": "200", "air": "75"})
    assert "fl oz per 1000 sq ft" in mild
    assert "100,000 sq ft" in mild  # 200 gal at 2 gal per 1000 sq ft
    assert "Burn risk low" in mild
    hot = _answer(client, WISH | {"n_rate": "1", "carrier": "1", "tank": "200", "air": "95"})
    assert "Burn risk high" in hot
    assert "Agnew and Moore 1989" in hot


# ---------------------------------------------------------------------- with and without htmx


def test_the_fragment_is_part_of_the_page(rep: User, signed_in: SignIn) -> None:
    client = signed_in(rep)
    fragment = _answer(client, WISH)
    start = fragment.index('<section id="answer"')
    answer = fragment[start : fragment.index("</section>\n", start)]
    assert "".join(answer.split()) in "".join(_page(client, WISH).split())


def test_a_link_to_a_wish_shows_the_same_answer(rep: User, signed_in: SignIn) -> None:
    client = signed_in(rep)
    response = client.post(reverse("blend_answer"), WISH, headers=HTMX)
    html = client.get(response["HX-Replace-Url"]).content.decode()
    assert 'class="grade">24-0-2' in html
    assert _shown(html, "slow_min") == "50"
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
    assert f'name="{field}"' not in _page(client, WISH)
    html = _page(client, WISH | {"add": add, "more": more})
    assert _shown(html, field) == ""
    assert _shown(html, "N_min") == "24"
    assert html.count("autofocus") == 1


def test_the_chart_is_asked_for_by_itself_and_has_its_table(rep: User, signed_in: SignIn) -> None:
    html = _answer(signed_in(rep), WISH | {"part": "curve"})
    assert "<svg" in html
    assert "(this blend)" in html
    rows = re.findall(r'<th scope="row">([\d.]+)</th>', html)
    assert len(rows) == 11
    assert rows[0] == "0.0"


def test_no_page_holds_inline_style_or_script(rep: User, signed_in: SignIn) -> None:
    client = signed_in(rep)
    for typed in (WISH | {"part": "curve"}, OUT_OF_REACH, {"N_min": "x"}):
        html = _page(client, typed)
        assert not re.search(r"\sstyle=|<style|\son\w+=|<script(?![^>]*\ssrc=)", html)


def test_the_number_of_queries_does_not_grow_with_the_catalogue(
    rep: User, signed_in: SignIn, django_assert_max_num_queries: Any
) -> None:
    client = signed_in(rep)
    with django_assert_max_num_queries(24):
        _answer(client, WISH)


# --------------------------------------------------------------------------------------- saving


def _save(client: Client, typed: dict[str, str], **more: str) -> Any:
    wish = client.post(reverse("blend_answer"), typed, headers=HTMX)["HX-Replace-Url"]
    return client.post(reverse("blend_save"), {"wish": wish.split("?", 1)[1], **more})


def test_the_rep_saves_for_a_company_and_goes_on_to_the_quote(
    rep: User, company: Company, signed_in: SignIn
) -> None:
    response = _save(signed_in(rep), WISH | {"company": str(company.pk)}, name="Summer 24")
    revision = BlendRevision.objects.get()
    url, query = response["Location"].split("?")
    assert url == reverse("quote_new")
    assert dict(parse_qsl(query)) == {
        "revision": str(revision.pk),
        "package": "tote-265",
        "quantity": "1",
        "company": str(company.pk),
        "n_rate": "0.7",
    }
    assert (revision.blend.name, revision.blend.company) == ("Summer 24", company)
    assert revision.wish["targets"] == [
        {"nutrient": "N", "min": 24.0},
        {"nutrient": "K2O", "min": 2.0},
    ]


def test_a_customer_saves_for_its_own_company_and_goes_to_the_blend(
    customer: User, stranger: User, signed_in: SignIn
) -> None:
    typed = WISH | {"company": str(stranger.company_id)}
    response = _save(signed_in(customer), typed, name="Ours")
    blend = Blend.objects.get()
    assert blend.company == customer.company
    assert response["Location"] == reverse("blend_detail", args=[blend.pk])


@pytest.mark.parametrize(
    ("typed", "name", "words"),
    [
        (WISH, "", "Give the blend a name."),
        (OUT_OF_REACH, "Too much", "This wish is out of reach"),
        ({}, "Nothing", "There is no wish to save yet."),
    ],
)
def test_what_cannot_be_saved_is_refused_in_words_and_the_page_stays(
    rep: User, signed_in: SignIn, typed: dict[str, str], name: str, words: str
) -> None:
    response = _save(signed_in(rep), typed, name=name)
    html = response.content.decode()
    assert response.status_code == 400
    assert words in html
    assert _shown(html, "N_min") == typed.get("N_min", "")
    assert not Blend.objects.exists()


def test_a_name_that_is_taken_is_refused_in_words(rep: User, signed_in: SignIn) -> None:
    client = signed_in(rep)
    _save(client, WISH, name="Twice")
    response = _save(client, WISH, name="Twice")
    assert response.status_code == 400
    assert "There is already a blend of this name." in response.content.decode()
    assert Blend.objects.count() == 1


def test_a_saved_revision_comes_back_and_its_next_revision_can_be_saved(
    rep: User, company: Company, signed_in: SignIn
) -> None:
    client = signed_in(rep)
    _save(client, WISH | {"company": str(company.pk)}, name="Summer")
    first = BlendRevision.objects.get()
    html = client.get(reverse("blend_page"), {"revision": first.pk}).content.decode()
    assert _shown(html, "slow_min") == "50"
    assert "Save as the next revision of Summer" in html
    typed = WISH | {"N_min": "22", "based_on": str(first.pk)}
    _save(client, typed, **{"as": "revision"})
    assert list(BlendRevision.objects.values_list("number", flat=True)) == [2, 1]


def test_a_stranger_cannot_open_the_revision_of_another_company(
    rep: User, company: Company, stranger: User, signed_in: SignIn
) -> None:
    _save(signed_in(rep), WISH | {"company": str(company.pk)}, name="Private")
    revision = BlendRevision.objects.get()
    client = signed_in(stranger)
    for query in ({"revision": revision.pk}, {"based_on": revision.pk}, {"revision": "x"}):
        assert client.get(reverse("blend_page"), query).status_code == 404


def test_a_wish_out_of_reach_can_be_put_aside_and_found_again(
    customer: User, stranger: User, signed_in: SignIn
) -> None:
    client = signed_in(customer)
    _save(client, OUT_OF_REACH, name="Some day", **{"as": "wish"})
    parked = ParkedWish.objects.get()
    assert "Some day" in client.get(reverse("blend_page")).content.decode()
    html = client.get(reverse("blend_page"), {"parked": parked.pk}).content.decode()
    assert _shown(html, "N_min") == "30"
    other = signed_in(stranger)
    assert "Some day" not in other.get(reverse("blend_page")).content.decode()
    assert other.get(reverse("blend_page"), {"parked": parked.pk}).status_code == 404


# --------------------------------------------------------------------------------- in one line


@pytest.mark.parametrize(
    ("line", "fields", "unclear"),
    [
        (
            "24-0-3 half slow, Fe 0.1, 4 totes",
            {"N_min": "24", "K2O_min": "3", "slow_min": "50", "Fe_min": "0.1", "quantity": "4"},
            [],
        ),
        ("28 n 50% slow release", {"N_min": "28", "slow_min": "50"}, []),
        ("3 to 3.5 potash, 20 nitrogen", {"K2O_min": "3", "K2O_max": "3.5", "N_min": "20"}, []),
        ("max 3 k at least 20N", {"K2O_max": "3", "N_min": "20"}, []),
        ("2s iron .05", {"S_min": "2", "Fe_min": ".05"}, []),
        ("24-0-3 foo 7", {"N_min": "24", "K2O_min": "3"}, ["foo", "7"]),
        ("zinc", {}, ["zinc"]),
        ("20 30 n", {"N_min": "30"}, ["20"]),
    ],
)
def test_a_line_is_read_word_by_word_and_nothing_is_guessed(
    line: str, fields: dict[str, str], unclear: list[str]
) -> None:
    said = read_line(line)
    assert (said.fields, said.unclear) == (fields, unclear)


def test_an_entered_line_fills_what_it_names_and_leaves_the_rest(
    rep: User, signed_in: SignIn
) -> None:
    typed = WISH | {"line": "22-0-0 zinc 0.05", "entered": "line", "Fe_max": "1"}
    html = _page(signed_in(rep), typed)
    assert _shown(html, "N_min") == "22"
    assert _shown(html, "Zn_min") == "0.05"
    assert _shown(html, "Fe_max") == "1"
    assert _shown(html, "line") == ""


def test_a_line_that_is_still_being_typed_changes_nothing(rep: User, signed_in: SignIn) -> None:
    response = signed_in(rep).post(reverse("blend_answer"), WISH | {"line": "10-0"}, headers=HTMX)
    assert "HX-Retarget" not in response
    assert 'class="grade">24-0-2' in response.content.decode()


def test_only_words_not_understood_are_named_and_stay_in_the_line(
    rep: User, signed_in: SignIn
) -> None:
    html = _page(signed_in(rep), WISH | {"line": "22 N and magic", "entered": "line"})
    assert "Not understood: magic." in html
    assert _shown(html, "line") == "magic"
    assert _shown(html, "N_min") == "22"
