"""The blend page: what cannot be had, what could be instead, what must not be mixed."""

import re

from django.http import QueryDict
from django.urls import reverse

from blendshop.accounts.models import User
from tests.factories import (
    CompatibilityRuleFactory,
    TraitFactory,
)
from tests.orders.blend_page.blend_page_cases import (
    HTMX,
    OUT_OF_REACH,
    WISH,
    SignIn,
    answer_text,
    page_text,
    shown_value,
)


def test_out_of_reach_names_the_conflict_the_reach_and_alternatives(
    rep: User, signed_in: SignIn
) -> None:
    html = answer_text(signed_in(rep), OUT_OF_REACH)
    assert "Out of reach" in html
    assert "<li>total nitrogen at least 30 %</li>" in html
    assert "How far each wish could go" in html
    assert html.count("Take this one") >= 2
    assert "/gal</strong>" in html


def test_every_alternative_can_be_taken_without_a_script(rep: User, signed_in: SignIn) -> None:
    client = signed_in(rep)
    takes = re.findall(r'name="take" value="([^"]+)"', answer_text(client, OUT_OF_REACH))
    assert takes
    for take in takes:
        html = page_text(client, OUT_OF_REACH | {"take": take.replace("&amp;", "&")})
        assert "answer-solved" in html
        changed = QueryDict(take.replace("&amp;", "&"))
        for name, value in changed.items():
            assert shown_value(html, name) == value


def test_taking_an_alternative_live_replaces_wish_and_answer(rep: User, signed_in: SignIn) -> None:
    client = signed_in(rep)
    take = re.search(r'name="take" value="([^"]+)"', answer_text(client, OUT_OF_REACH))
    assert take
    response = client.post(
        reverse("blend_answer"),
        OUT_OF_REACH | {"take": take.group(1).replace("&amp;", "&")},
        headers=HTMX,
    )
    assert response["HX-Retarget"] == "#workspace"
    html = response.content.decode()
    assert 'id="wish-form"' in html
    assert "answer-solved" in html


def test_only_fields_of_the_page_can_be_changed_by_an_alternative(
    rep: User, signed_in: SignIn
) -> None:
    html = page_text(signed_in(rep), WISH | {"take": "quantity_of_gold=7&N_min=20"})
    assert "quantity_of_gold" not in html
    assert shown_value(html, "N_min") == "20"


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
    html = answer_text(signed_in(rep), typed)
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
    html = answer_text(signed_in(rep), WISH)
    assert "may cloud" in html
    assert "Put on goggles and gloves" in html
