"""The blend page: a wish said in one line, its chips, and what is asked back."""

import re
from html import unescape

import pytest
from django.urls import reverse

from blendshop.accounts.models import User
from formulas.models import DraftWish
from orders.blend_page.quick_entry import with_quick_entry
from tests.orders.blend_page.blend_page_cases import (
    HTMX,
    OUT_OF_REACH,
    WISH,
    SignIn,
    form_from,
    page_text,
    shown_value,
)

PRICE = "<dt>per gal</dt>"
README = (
    "24 % nitrogen, half of it slow release, a little potash, some micros, "
    "safe through my low-volume ride-on, legal where I spray"
)


def entered(line: str, **typed: str) -> dict[str, str]:
    return {"line": line, "entered": "line"} | typed


def fields_after(user: User, line: str, **typed: str) -> dict[str, str]:
    form = form_from(user, typed)
    data = form.typed.copy()
    data.update(entered(line))
    filled = with_quick_entry(data, form.options)
    return {name: filled[name] for name in filled if filled[name] != form.typed.get(name, "")}


def chips(html: str) -> list[str]:
    labels = re.findall(r'<li class="chip">.*?<(?:a|span)[^>]*>(.*?)<', html, re.DOTALL)
    return [unescape(label) for label in labels]


def marked(html: str) -> list[str]:
    return [unescape(words) for words in re.findall(r"<mark>(.*?)</mark>", html)]


def offered(html: str) -> dict[str, str]:
    """The choices by their words: the line each one enters."""
    buttons = re.findall(r'name="say" value="([^"]*)">(.*?)</button>', html)
    return {unescape(words): unescape(line) for line, words in buttons}


@pytest.mark.parametrize(
    ("line", "fields"),
    [
        ("530 gallons", {"quantity": "2"}),
        ("2 totes", {"quantity": "2"}),
        ("2 265 gal totes", {"quantity": "2"}),
        ("no phosphorus", {"P2O5_max": "0"}),
        ("24-0-3, 0.9 lb N, 1.5 gal per thousand, 300 gal tank, 80 degrees, for MD",
         {"N_min": "24", "K2O_min": "3", "n_rate": "0.9", "carrier": "1.5", "tank": "300",
          "air": "80", "law_state": "MD"}),
        ("legal where I spray", {"legal": "on"}),
        ("no water", {"exclude": "WATER"}),
    ],
)  # fmt: skip
def test_a_line_fills_what_it_names_in_the_packages_of_the_plant(
    rep: User, line: str, fields: dict[str, str]
) -> None:
    found = fields_after(rep, line)
    assert {name: found[name] for name in found if name not in {"said", "entered"}} == fields


@pytest.mark.parametrize(
    ("line", "offers"),
    [
        ("500 gallons", "2 265 gal totes"),
        ("3 275 gal totes", "3 265 gal totes"),
        ("2000 lb", None),
        ("iron and 10 totes", "0.1 % iron"),
        ("24,5-0-3", "24.5-0-3"),
    ],
)
def test_what_does_not_say_one_thing_fills_nothing_and_is_asked(
    rep: User, signed_in: SignIn, line: str, offers: str | None
) -> None:
    html = page_text(signed_in(rep), WISH | entered(line))
    assert marked(html)
    assert PRICE not in html
    assert "No price while the line is open" in html
    assert offers is None or offers in offered(html)
    assert shown_value(html, "N_min") == WISH["N_min"]


def test_the_first_sentence_of_the_readme_asks_for_potash_and_micros_only(
    rep: User, signed_in: SignIn
) -> None:
    client = signed_in(rep)
    html = page_text(client, entered(README, law_state="MD"))
    assert marked(html) == ["a little potash", "some micros"]
    assert shown_value(html, "line") == "a little potash, some micros"
    assert chips(html)[:2] == ["24 % nitrogen", "50 % of N slow release"]
    assert any(label.startswith("low volume: 0.5 gal") for label in chips(html))
    assert "WAC 16-200-711" in html
    assert PRICE not in html


def test_a_choice_settles_its_question_and_the_price_comes_with_the_last(
    rep: User, signed_in: SignIn
) -> None:
    client = signed_in(rep)
    asked = page_text(client, WISH | entered("some potash, 2 totes and some iron", K2O_min=""))
    say = offered(asked)["2 % potash"]
    assert say == "2 % potash, some iron"
    now = WISH | {"line": shown_value(asked, "line"), "heard": shown_value(asked, "heard")}
    half = page_text(client, now | {"say": say})
    assert (marked(half), PRICE in half) == (["some iron"], False)
    settled = page_text(client, now | {"say": "2 % potash"})
    assert (marked(settled), PRICE in settled) == ([], True)
    assert shown_value(settled, "K2O_min") == "2"


def test_a_line_that_is_open_stays_open_until_it_is_settled_or_emptied(
    rep: User, signed_in: SignIn
) -> None:
    client = signed_in(rep)
    still = WISH | {"heard": "22 N foo 7", "line": "foo 7"}
    assert PRICE not in page_text(client, still)
    linked = client.get(reverse("blend_page"), WISH | {"heard": "22 N foo 7"})
    assert PRICE not in linked.content.decode()
    emptied = page_text(client, still | {"line": ""})
    assert PRICE in emptied
    assert 'name="heard"' not in emptied


def test_words_without_a_figure_are_marked_and_the_price_stands(
    rep: User, signed_in: SignIn
) -> None:
    html = page_text(signed_in(rep), WISH | entered("22 N and magic"))
    assert "Not understood: magic." in html
    assert (marked(html), shown_value(html, "line")) == (["magic"], "magic")
    assert (shown_value(html, "N_min"), PRICE in html) == ("22", True)


def test_a_chip_is_taken_back_with_what_it_filled_in(rep: User, signed_in: SignIn) -> None:
    client = signed_in(rep)
    html = page_text(client, entered("20-0-0 half slow, 3 totes"))
    assert chips(html) == ["20 % nitrogen", "50 % of N slow release", "3 × 265 gal totes"]
    kept = [unescape(value) for value in re.findall(r'name="said" value="([^"]*)"', html)]
    package = form_from(rep, {}).typed["package"]
    typed = {"N_min": "20", "slow_min": "50", "quantity": "3", "package": package, "said": kept}
    html = page_text(client, typed | {"unsay": "2"})
    assert chips(html) == ["20 % nitrogen", "50 % of N slow release"]
    assert (shown_value(html, "quantity"), shown_value(html, "N_min")) == ("1", "20")
    assert page_text(client, typed | {"unsay": "nonsense"}).count('class="chip"') == 3


def test_a_figure_typed_over_a_chip_speaks_for_itself(rep: User, signed_in: SignIn) -> None:
    client = signed_in(rep)
    kept = re.findall(r'name="said" value="([^"]*)"', page_text(client, entered("20-0-0")))
    response = client.post(
        reverse("blend_answer"), {"N_min": "21", "said": unescape(kept[0])}, headers=HTMX
    )
    assert 'class="chip"' not in response.content.decode()


def test_a_line_that_is_still_being_typed_changes_nothing(rep: User, signed_in: SignIn) -> None:
    response = signed_in(rep).post(reverse("blend_answer"), WISH | {"line": "10-0"}, headers=HTMX)
    assert "HX-Retarget" not in response
    assert 'class="grade">24-0-2' in response.content.decode()


@pytest.mark.parametrize("line", ["24-0-3 \x07", "N " * 5000])
def test_what_is_no_line_says_so_and_stays(rep: User, signed_in: SignIn, line: str) -> None:
    html = page_text(signed_in(rep), WISH | entered(line))
    assert "control character" in html or "at most 400 characters" in html
    assert PRICE not in html


@pytest.mark.parametrize(
    ("asked", "words"),
    [("under $100 a gallon", "Within the $100.00"), ("under $0.50/gal", "at most $0.50")],
)
def test_a_price_that_was_asked_for_is_held_against_the_price(
    rep: User, signed_in: SignIn, asked: str, words: str
) -> None:
    html = page_text(signed_in(rep), WISH | entered(f"{asked} delivered", ship_to=""))
    assert words in html
    assert "Without the delivery" in html


def test_nothing_is_saved_while_the_line_is_open(rep: User, signed_in: SignIn) -> None:
    client = signed_in(rep)
    said = OUT_OF_REACH | entered("some iron")
    response = client.post(reverse("blend_save"), said | {"name": "Open", "as": "wish"})
    assert response.status_code == 400
    assert not DraftWish.objects.exists()
