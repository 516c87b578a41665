"""The blend page: a blend is saved, called back, kept as a draft."""

import re
from typing import Any
from urllib.parse import parse_qsl

import pytest
from django.test import Client
from django.urls import reverse

from blendshop.accounts.models import Company, User
from formulas.answers.wish import Target
from formulas.models import Blend, BlendRevision, DraftWish
from orders.models import TriedBlend
from tests.orders.blend_page.blend_page_cases import (
    HTMX,
    OUT_OF_REACH,
    WISH,
    SignIn,
    shown_value,
)


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
    assert revision.wished.targets == (Target("N", min=24.0), Target("K2O", min=2.0))


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
    assert shown_value(html, "N_min") == typed.get("N_min", "")
    assert not Blend.objects.exists()


def test_what_is_typed_is_what_is_saved_although_nobody_asked_for_the_answer(
    rep: User, signed_in: SignIn
) -> None:
    """As a browser without a script sends it: every field, and a line nobody has entered."""
    typed = WISH | {"N_min": "22", "line": "3 totes, Fe 0.1", "name": "As typed"}
    response = signed_in(rep).post(reverse("blend_save"), typed)
    saved = BlendRevision.objects.get()
    least = {target.nutrient: target.min for target in saved.wished.targets}
    assert least == {"N": 22.0, "K2O": 2.0, "Fe": 0.1}
    assert saved.blend.name == "As typed"
    assert "quantity=3" in response["Location"]
    # What the line leaves open is asked, and everything typed stands there still.
    refused = signed_in(rep).post(reverse("blend_save"), typed | {"line": "some micros"})
    assert refused.status_code == 400
    html = refused.content.decode()
    assert "Which micronutrients" in html
    assert [shown_value(html, name) for name in ("N_min", "name")] == ["22", "As typed"]


def test_without_a_name_it_is_called_by_its_grade(
    rep: User, company: Company, signed_in: SignIn
) -> None:
    client = signed_in(rep)
    for _ in range(2):
        client.post(reverse("blend_save"), WISH | {"company": str(company.pk)})
    names = set(Blend.objects.values_list("name", flat=True))
    assert names == {"24-0-2, 50% slow", "24-0-2, 50% slow (2)"}


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
    assert shown_value(html, "slow_min") == "50"
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
    draft = DraftWish.objects.get()
    assert "Some day" in client.get(reverse("blend_page")).content.decode()
    html = client.get(reverse("blend_page"), {"draft": draft.pk}).content.decode()
    assert shown_value(html, "N_min") == "30"
    of_an_older_link = client.get(reverse("blend_page"), {"parked": draft.pk}).content.decode()
    assert shown_value(of_an_older_link, "N_min") == "30"
    other = signed_in(stranger)
    assert "Some day" not in other.get(reverse("blend_page")).content.decode()
    assert other.get(reverse("blend_page"), {"draft": draft.pk}).status_code == 404


def test_how_it_is_sprayed_is_remembered_for_the_customers_next_wish(
    rep: User, company: Company, signed_in: SignIn
) -> None:
    client = signed_in(rep)
    sprayed = {"n_rate": "0.5", "carrier": "3", "law_state": "MD"}
    _save(client, WISH | sprayed | {"company": str(company.pk)}, name="Summer 24")
    next_one = client.get(reverse("blend_page"), {"company": str(company.pk)}).content.decode()
    assert {name: shown_value(next_one, name) for name in sprayed} == sprayed
    nobodys = client.get(reverse("blend_page")).content.decode()
    assert shown_value(nobodys, "carrier") == "2"
    # What the page filled in goes with its customer; what was typed stays.
    typed = WISH | sprayed | {"n_rate": "0.9", "ship_to_of": str(company.pk), "company": ""}
    changed = client.post(reverse("blend_answer"), typed).content.decode()
    assert [shown_value(changed, name) for name in sprayed] == ["0.9", "2", ""]


def test_a_wish_for_nothing_above_zero_is_not_saved(
    rep: User, company: Company, signed_in: SignIn
) -> None:
    response = _save(signed_in(rep), {"P2O5_max": "0", "company": str(company.pk)}, name="Water")
    assert response.status_code == 400
    assert "asks for nothing" in response.content.decode()
    assert not Blend.objects.exists()
    kept = signed_in(rep).post(reverse("blend_tray_keep"), {"P2O5_max": "0"})
    assert kept.status_code == 400  # nor is it quoted from the tray
    assert not TriedBlend.objects.exists()


def test_the_same_press_twice_saves_one_blend_and_a_large_quantity_is_asked_about_once(
    rep: User, company: Company, signed_in: SignIn
) -> None:
    client = signed_in(rep)
    press = {"name": "Summer 24", "once": "a1"}
    first, second = (_save(client, WISH, **press) for _ in range(2))
    assert first["Location"] == second["Location"]
    assert BlendRevision.objects.count() == 1
    much = WISH | {"quantity": "99999"}
    asked = _save(client, much, name="Much", once="b2")
    assert "26.5 million gal" in asked.content.decode()
    assert BlendRevision.objects.count() == 1
    meant = re.search(r'name="meant" value="([^"]+)"', asked.content.decode())
    assert meant
    assert _save(client, much, name="Much", once="b2", meant=meant[1]).status_code == 302
    assert BlendRevision.objects.count() == 2
