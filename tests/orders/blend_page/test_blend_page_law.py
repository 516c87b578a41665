"""The law on the blend page: what it says in words, and how it enters the wish, never silently.

The limits tested are those of the statutes: Md. Code, Agriculture 6-224(a) (0.9 lb total N and
0.7 lb water-soluble N at a time, 20 % slow release, no phosphorus without a reason); N.Y. ECL
17-2103 (0.67 % phosphate, December 1 to April 1 closed).
"""

import re
from collections.abc import Callable
from dataclasses import replace
from html import unescape
from typing import Any
from urllib.parse import parse_qs, urlencode

import pytest
from django.http import QueryDict
from django.test import Client
from django.urls import reverse

from blendshop.accounts.models import Company, User
from formulas.answers.wish import Range, Target
from formulas.models import BlendRevision
from orders.blend_page.legal import legal_of
from orders.blend_page.page_options import load_page_options
from orders.blend_page.page_state import PageState, state_of
from orders.blend_page.page_wish import wish_of
from orders.blend_page.typed_again import fields_of
from orders.blend_page.wish_form import WishForm
from orders.models import ShipTo
from tests.factories import (
    BaseStockFactory,
    ShipToFactory,
    today,
)

SignIn = Callable[[User], Client]
WISH = {"N_min": "20", "K2O_min": "2"}
HTMX = {"HX-Request": "true"}


@pytest.fixture(autouse=True)
def polyphosphate(shop: None) -> None:
    BaseStockFactory(
        code="APP",
        name="ammonium polyphosphate solution",
        density_lb_per_gal=11.7,
        analysis={"N.ammoniacal": 10.0, "P2O5": 34.0},
        cost_per_lb="0.3000",
    )


@pytest.fixture
def yard(company: Company) -> ShipTo:
    return ShipToFactory(company=company, state="MD", county="Test", city="Testville")


def _form(user: User, typed: dict[str, str]) -> WishForm:
    data = QueryDict(mutable=True)
    data.update(typed)
    return WishForm(data, options=load_page_options(user, today()))


def _state(user: User, typed: dict[str, str]) -> PageState:
    return state_of(_form(user, typed))


def _html(client: Client, typed: dict[str, Any]) -> str:
    response = client.post(reverse("blend_answer"), typed, headers=HTMX)
    assert response.status_code == 200
    return re.sub(r"\s+", " ", unescape(response.content.decode()))


def _at(yard: ShipTo, **more: str) -> dict[str, str]:
    return WISH | {"company": str(yard.company_id), "ship_to": str(yard.pk)} | more


# ------------------------------------------------------------------------------ the check


def _law_head(html: str) -> str:
    found = re.search(r'<p class="law-head.*?</p>', html, re.DOTALL)
    assert found
    return found.group()


def test_the_ship_to_chooses_the_rules_and_each_answer_says_where_it_stands(
    rep: User, yard: ShipTo, signed_in: SignIn
) -> None:
    html = _html(signed_in(rep), _at(yard, n_rate="1.2"))
    head = _law_head(html)
    assert "Testville, Test County, MD" in head
    assert "1.20 lb N per 1000 sq ft" in head
    assert "Likely not legal in Testville, Test County, MD" in html
    assert "1.20 lb total nitrogen against at most 0.90 lb." in html
    assert 'What would fix it: <span lang="en">Apply at most 0.90 lb N. A' in html
    assert "Md. Code, Agriculture 6-224(a)(1)" in html
    assert "checked 2026-11-25" in html
    assert "Screening aid, not legal advice" in html


def test_without_a_ship_to_the_state_is_typed_and_without_both_nothing_is_claimed(
    rep: User, signed_in: SignIn
) -> None:
    client = signed_in(rep)
    assert "type the state" in _html(client, WISH)
    typed = WISH | {"law_state": "ny", "law_on": "2027-03-15"}
    html = _html(client, typed)
    assert "NY (as typed, not the ship-to)" in html
    assert "from December 1 to April 1, both days included. March 15 falls into it." in html
    assert "falls into it" not in _html(client, typed | {"law_on": "2027-04-02"})


def test_a_typed_state_goes_before_the_ship_to_and_says_so(
    rep: User, yard: ShipTo, signed_in: SignIn
) -> None:
    html = _html(signed_in(rep), _at(yard, law_state="NY"))
    assert "NY (as typed, not the ship-to)" in html
    assert "Md. Code" not in html


def test_an_open_question_is_asked_and_its_answer_settles_the_finding(
    rep: User, signed_in: SignIn
) -> None:
    client = signed_in(rep)
    typed = WISH | {"law_state": "NY", "P2O5_min": "2"}
    found = _state(rep, typed).law
    assert found is not None
    assert found.report is not None
    (phosphorus,) = [row for row in found.report.findings if row.topic == "phosphorus"]
    assert phosphorus.verdict == "not assessed"
    assert ("q_new_lawn", "New lawn") in phosphorus.asks
    assert 'href="#q_new_lawn"' in _html(client, typed)
    no = typed | {"q_new_lawn": "no", "q_soil_test_shows_p_need": "no"}
    report = _state(rep, no).law
    assert report is not None
    assert report.report is not None
    assert [row.topic for row in report.report.failing] == ["phosphorus"]
    yes = _state(rep, typed | {"q_new_lawn": "yes"}).law
    assert yes is not None
    assert yes.report is not None
    assert not yes.report.failing


def test_unverified_figures_are_marked_and_make_no_pass(rep: User, signed_in: SignIn) -> None:
    typed = WISH | {"law_state": "NJ", "q_professional": "no", "n_rate": "0.5"}
    html = _html(signed_in(rep), typed)
    assert "unverified figure" in html
    law = _state(rep, typed).law
    assert law is not None
    assert law.report is not None
    assert law.report.verdict != "passes"


def test_state_and_local_rules_both_stand_and_the_stricter_is_named(rep: User) -> None:
    typed = WISH | {"law_state": "FL", "law_county": "Orange", "n_rate": "0.9"}
    law = _state(rep, typed).law
    assert law is not None
    assert law.report is not None
    jurisdictions = {row.jurisdiction for row in law.report.findings}
    assert {"Florida"} < jurisdictions
    assert law.report.stricter
    for topic, reason in law.report.stricter:
        assert "Florida (at " in reason, topic
        assert "Orange County, Florida (at " in reason, topic
    # Both allow 1.0 lb N at a time: Fla. Adm. Code 5E-1.003, Orange County Code 15-804(c).
    assert "ask the same" in dict(law.report.stricter)["total nitrogen per application"]


def test_no_pack_is_said_and_is_no_pass(rep: User, signed_in: SignIn) -> None:
    html = _html(signed_in(rep), WISH | {"law_state": "ZZ"})
    assert "No rule pack stands for ZZ: nothing was checked there." in html


@pytest.mark.parametrize(
    ("field", "value"),
    [("law_on", "31.5."), ("law_state", "Maryland"), ("q_distance_to_water_ft", "-3")],
)
def test_a_slip_in_the_law_leaves_the_blend_and_is_said_at_its_field(
    rep: User, yard: ShipTo, field: str, value: str
) -> None:
    found = _state(rep, _at(yard, **{field: value}))
    assert found.status == "solved"
    assert field in found.form.errors
    blocked = _state(rep, _at(yard, legal="on", **{field: value}))
    assert blocked.status == "invalid"


# ------------------------------------------------------------------ the law as plain wishes


def test_legal_brings_the_limits_into_the_body_and_names_them(
    rep: User, yard: ShipTo, signed_in: SignIn
) -> None:
    typed = _at(yard, legal="on", legal_unverified="on", n_rate="0.9")
    found = _state(rep, typed)
    assert found.wish is not None
    # 1 - 0.7 / 0.9 of the nitrogen must be slow, rounded to the safe side.
    assert found.wish.wish.contract_json()["slow_release_pct"] == {"min": 22.2223}
    assert {"nutrient": "P2O5", "max": 0.0} in found.wish.wish.contract_json()["targets"]
    assert found.blend is not None
    assert found.blend.slow_release_pct == pytest.approx(22.2223, abs=1e-4)
    html = _html(signed_in(rep), typed)
    assert "In the wish by law of Testville, Test County, MD" in html
    assert "slow release at least 22.2223 % of N; available phosphate at most 0 %" in html


def test_what_the_person_asks_stricter_than_the_law_stays(rep: User, yard: ShipTo) -> None:
    found = _state(rep, _at(yard, legal="on", n_rate="0.9", slow_min="50"))
    assert found.wish is not None
    assert found.wish.wish.contract_json()["slow_release_pct"] == {"min": 50.0}


def test_a_wish_against_the_law_is_refused_at_its_own_field(rep: User) -> None:
    found = _state(rep, WISH | {"law_state": "NY", "legal": "on", "P2O5_min": "2"})
    assert found.status == "invalid"
    assert "at most 0.67 %" in str(found.form.errors["P2O5_min"])
    reason = {"q_new_lawn": "yes"}
    allowed = _state(rep, WISH | {"law_state": "NY", "legal": "on", "P2O5_min": "2"} | reason)
    assert allowed.status == "solved"


def test_unverified_rules_enter_only_when_ticked_and_are_listed_otherwise(rep: User) -> None:
    typed = WISH | {"law_state": "NJ", "q_professional": "no", "n_rate": "0.9", "legal": "on"}
    plain = _state(rep, typed)
    assert plain.law is not None
    assert plain.law.legal is not None
    assert plain.law.legal.limits == ()
    assert plain.law.legal.left_out
    assert not any(item.is_verified for item in plain.law.legal.left_out)
    assert plain.wish is not None
    assert "slow_release_pct" not in plain.wish.wish.contract_json()
    ticked = _state(rep, typed | {"legal_unverified": "on"})
    assert ticked.wish is not None
    assert ticked.wish.wish.contract_json()["slow_release_pct"]["min"] >= 20.0


def test_legal_without_a_place_says_that_no_law_has_entered(rep: User, signed_in: SignIn) -> None:
    html = _html(signed_in(rep), WISH | {"legal": "on"})
    assert "The law has not entered this blend." in html
    assert '<li data-field="legal">' in html


def test_a_rate_that_no_reading_allows_is_refused_and_gives_no_sheet(
    rep: User, yard: ShipTo
) -> None:
    """A blend of the least slow share, 20 %: 0.7 / 0.8 lb keeps the readily available limit."""
    found = _state(rep, _at(yard, legal="on", legal_unverified="on", n_rate="1.2"))
    assert found.blend is not None
    assert "At most 0.875 lb at a time is legal here" in str(found.form.errors["n_rate"])
    assert found.spray is not None
    assert found.spray.sheet is None
    assert found.price is not None
    assert found.price.per_1000sqft is None
    free = _state(rep, _at(yard, n_rate="1.2"))
    assert "n_rate" not in free.form.errors
    assert free.spray is not None
    assert free.spray.sheet is not None


def test_where_the_text_is_not_settled_both_rates_stand(
    rep: User, yard: ShipTo, signed_in: SignIn
) -> None:
    html = _html(signed_in(rep), _at(yard, n_rate="0.7", slow_min="50", legal_unverified="on"))
    assert re.search(r"read strictly, 0\.90 lb read broadly", html)


def test_a_limit_of_the_law_gives_way_in_no_alternative_that_can_be_taken(
    rep: User, yard: ShipTo
) -> None:
    """The strongest stock without slow nitrogen holds 32 %; with 22 % slow, 31.9 % is too much."""
    found = _state(
        rep,
        _at(yard, legal="on", legal_unverified="on", n_rate="0.9")
        | {"N_min": "31.9", "K2O_min": ""},
    )
    assert found.status == "out_of_reach"
    assert found.infeasibility is not None
    assert any("by law" in words for words in found.infeasibility.conflict)
    for item in found.alternatives:
        by_law = [each for each in item.alternative.relaxations if "by law" in each.words]
        assert (item.alternative.take is None) == item.alternative.is_against_law == bool(by_law)


def test_a_saved_legal_wish_is_plain_and_its_note_says_whose_limits_stand_in_it(
    rep: User, yard: ShipTo, signed_in: SignIn
) -> None:
    client = signed_in(rep)
    typed = _at(yard, legal="on", legal_unverified="on", n_rate="0.9")
    link = client.post(reverse("blend_answer"), typed, headers=HTMX)["HX-Replace-Url"]
    client.post(reverse("blend_save"), {"wish": link.split("?", 1)[1], "name": "Legal 20"})
    revision = BlendRevision.objects.get()
    assert revision.wished.slow_release_pct == Range(min=22.2223)
    assert "legal" not in revision.wish
    assert "Limits by law of Testville, Test County, MD at 0.9 lb N" in revision.note
    options = load_page_options(rep, today())
    again = fields_of(revision.wished, options.packages, options.default_package)
    data = QueryDict(urlencode(again, doseq=True))
    form = WishForm(data, options=options)
    assert form.is_valid()
    asked = wish_of(form).wish
    assert replace(asked, targets=()) == replace(revision.wished, targets=())
    assert set(asked.targets) == set(revision.wished.targets)


def test_a_link_keeps_the_law_and_the_answers(rep: User, yard: ShipTo) -> None:
    typed = _at(yard, legal="on", law_on="2027-05-01", q_professional="yes")
    link = parse_qs(_state(rep, typed).link)
    assert link["legal"] == ["on"]
    assert link["law_on"] == ["2027-05-01"]
    assert link["q_professional"] == ["yes"]


def test_insoluble_nitrogen_that_a_law_asks_for_can_be_typed_again(rep: User) -> None:
    form = _form(rep, {"N_min": "20", "N.insoluble_min": "1"})
    assert form.is_valid()
    assert Target("N.insoluble", min=1.0) in wish_of(form).wish.targets


def test_without_the_tick_no_law_is_in_the_body(rep: User, yard: ShipTo) -> None:
    form = _form(rep, _at(yard))
    assert form.is_valid()
    assert legal_of(form) is None
    assert wish_of(form, None).wish.contract_json()["targets"] == [
        {"nutrient": "N", "min": 20.0},
        {"nutrient": "K2O", "min": 2.0},
    ]


def test_a_customer_reads_the_law_of_its_own_ship_to(
    customer: User, yard: ShipTo, signed_in: SignIn
) -> None:
    html = _html(signed_in(customer), WISH | {"n_rate": "1.2"})
    assert "law-likely-fails" in _law_head(html)
    assert "Likely not legal in Testville, Test County, MD" in html


def test_a_whole_recipe_against_the_law_is_out_of_reach_and_stays_as_typed(
    rep: User, yard: ShipTo
) -> None:
    typed = {
        "mode": "recipe", "recipe_code_0": "UAN", "recipe_pct_0": "100", "legal": "on",
        "legal_unverified": "on",
        "n_rate": "0.9", "law_state": "MD",
    }  # fmt: skip
    found = _state(rep, typed)
    assert found.status == "out_of_reach"
    assert found.wish is not None
    assert found.wish.wish.contract_json()["recipe"] == [{"code": "UAN", "pct": 100.0}]
    assert _state(rep, typed | {"legal": ""}).status == "solved"


def test_the_strongest_legal_blend_keeps_the_laws_share(rep: User) -> None:
    typed = {
        "mode": "strongest",
        "strongest": "N",
        "legal": "on",
        "legal_unverified": "on",
        "n_rate": "0.9",
    }
    found = _state(rep, typed | {"law_state": "MD"})
    assert found.blend is not None
    assert found.blend.slow_release_pct == pytest.approx(22.2223, abs=1e-4)
