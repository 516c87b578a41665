"""The blend page: a wish typed in one line."""

import pytest
from django.urls import reverse

from blendshop.accounts.models import User
from orders.blend_page.quick_entry import read_entry
from tests.orders.blend_page.blend_page_cases import (
    HTMX,
    WISH,
    SignIn,
    page_text,
    shown_value,
)


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
    said = read_entry(line)
    assert (said.fields, said.unclear) == (fields, unclear)


def test_an_entered_line_fills_what_it_names_and_leaves_the_rest(
    rep: User, signed_in: SignIn
) -> None:
    typed = WISH | {"line": "22-0-0 zinc 0.05", "entered": "line", "Fe_max": "1"}
    html = page_text(signed_in(rep), typed)
    assert shown_value(html, "N_min") == "22"
    assert shown_value(html, "Zn_min") == "0.05"
    assert shown_value(html, "Fe_max") == "1"
    assert shown_value(html, "line") == ""


def test_a_line_that_is_still_being_typed_changes_nothing(rep: User, signed_in: SignIn) -> None:
    response = signed_in(rep).post(reverse("blend_answer"), WISH | {"line": "10-0"}, headers=HTMX)
    assert "HX-Retarget" not in response
    assert 'class="grade">24-0-2' in response.content.decode()


def test_only_words_not_understood_are_named_and_stay_in_the_line(
    rep: User, signed_in: SignIn
) -> None:
    html = page_text(signed_in(rep), WISH | {"line": "22 N and magic", "entered": "line"})
    assert "Not understood: magic." in html
    assert shown_value(html, "line") == "magic"
    assert shown_value(html, "N_min") == "22"
