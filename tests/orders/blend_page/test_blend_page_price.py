"""A selling price as a wish: the printed price keeps it to the cent, or it is said what gives."""

import re
from decimal import Decimal
from html import unescape
from urllib.parse import parse_qsl

import pytest
from django.urls import reverse

from blendshop.accounts.models import User
from formulas.models import BlendRevision
from orders.blend_page.page_state import PageState, state_of
from tests.orders.blend_page.blend_page_cases import (
    HTMX,
    WISH,
    SignIn,
    answer_text,
    form_from,
    page_text,
    shown_value,
)

STRONGEST = {"mode": "strongest", "strongest": "N", "slow_min": "50", "K2O_min": "2"}


def state(user: User, typed: dict[str, str]) -> PageState:
    return state_of(form_from(user, typed))


def printed(user: User, typed: dict[str, str], per: str = "gal") -> Decimal:
    price = state(user, typed).price
    assert price is not None
    found = price.per(per)
    assert found is not None, price.problem
    return found


def test_the_printed_price_is_at_most_the_wished_one_and_as_strong_as_that_allows(
    rep: User,
) -> None:
    free = printed(rep, STRONGEST)
    before = 100.0
    for less in ("0.00", "0.07", "0.40"):
        most = free - Decimal(less)
        found = state(rep, STRONGEST | {"price_asked": str(most)})
        assert found.blend is not None
        assert found.price is not None
        assert most - Decimal("0.06") <= (found.price.per_gal or 0) <= most
        assert found.blend.analysis["N"] <= before
        before = found.blend.analysis["N"]
        assert found.price_asked is not None
        assert found.price_asked.is_kept


def test_a_price_for_the_tote_is_kept_by_the_tote(rep: User) -> None:
    most = printed(rep, STRONGEST, "tote") - 100
    found = state(rep, STRONGEST | {"price_asked": f"${most}", "price_asked_per": "tote"})
    assert found.price is not None
    assert most - 5 <= (found.price.per_package or 0) <= most


def test_what_cannot_be_had_is_said_in_prices_and_never_in_costs(rep: User) -> None:
    least = printed(rep, WISH)
    assert state(rep, WISH | {"price_asked": str(least)}).status == "solved"
    most = least - Decimal("0.30")
    missed = state(rep, WISH | {"price_asked": str(most)})
    assert missed.infeasibility is not None
    assert f"price a gallon at most ${most}" in missed.infeasibility.conflict
    (row,) = [row for row in missed.infeasibility.reach if row.words.startswith("price")]
    assert (row.asked, row.best) == (f"${most}", f"${least}")
    assert not any("material" in words for words in missed.infeasibility.conflict)
    kept = {each.alternative.kept: each for each in missed.alternatives}
    assert len(kept) == len(missed.alternatives) >= 2, "each is named by what it keeps"
    for names, each in kept.items():
        assert each.strip.results
        assert each.price.per_gal is not None
        assert (f"price a gallon ${most}" in names) is (each.price.per_gal <= most)
    (dearer,) = [each for names, each in kept.items() if f"price a gallon ${most}" not in names]
    assert dearer.alternative.take == f"price_asked={least}"
    assert all(each is dearer or (each.price.per_gal or 0) <= most for each in kept.values())


def test_an_alternative_is_a_row_that_says_what_is_kept_and_what_gives(
    rep: User, signed_in: SignIn
) -> None:
    client = signed_in(rep)
    html = answer_text(client, {"N_min": "30", "slow_min": "50", "K2O_min": "2"})
    titles = [
        " ".join(unescape(re.sub(r"<[^>]+>", " ", title)).split())
        for title in re.findall(r"<h4>(.*?)</h4>", html, re.DOTALL)
    ]
    assert any(re.fullmatch(r"K₂O 2 and slow 50 kept: N 30 → [\d.]+", each) for each in titles)
    assert html.count('class="strip-short"') == len(titles)
    # Only of a price it is said that no recipe but those looked at is ruled out.
    assert "is not ruled out" not in html
    assert "is not ruled out" in answer_text(client, WISH | {"price_asked": "3"})


def test_it_is_saved_with_the_wish_and_asked_again_by_the_price(
    rep: User, signed_in: SignIn
) -> None:
    client, typed = signed_in(rep), STRONGEST | {"price_asked": "6.50"}
    url = client.post(reverse("blend_answer"), typed, headers=HTMX)["HX-Replace-Url"]
    assert dict(parse_qsl(url.split("?")[1]))["price_asked"] == "6.50"
    client.post(reverse("blend_save"), {"wish": url.split("?")[1], "name": "Priced"})
    revision = BlendRevision.objects.get()
    ceiling = revision.wished.cost_per_gal
    assert ceiling is not None
    assert (ceiling.price, ceiling.price_per) == (6.5, "gal")
    html = client.get(reverse("blend_page"), {"revision": revision.pk}).content.decode()
    assert shown_value(html, "price_asked") == "6.50"
    assert "Within the $6.50" in html


def test_a_price_said_in_the_line_stands_in_its_field_and_in_a_chip(
    rep: User, signed_in: SignIn
) -> None:
    line = {"line": "24-0-2 half slow under $9 a gallon", "entered": "line"}
    html = page_text(signed_in(rep), line)
    assert shown_value(html, "price_asked") == "9.00"
    assert '<a href="#price_asked">under $9.00 a gallon</a>' in html
    assert "Within the $9.00" in html


@pytest.mark.parametrize("typed", ["-1", "0", "0.001", "cheap"])
def test_what_is_no_price_is_said_at_its_field(rep: User, typed: str) -> None:
    found = state(rep, WISH | {"price_asked": typed})
    assert found.status == "invalid"
    assert "price_asked" in found.form.errors


def test_who_sees_costs_may_limit_the_material_itself(formulator: User, customer: User) -> None:
    assert "material_max" not in form_from(customer, WISH).fields
    free = state(formulator, WISH)
    assert free.blend is not None
    assert free.blend.totals.cost_per_gal is not None
    below = free.blend.totals.cost_per_gal - Decimal("0.05")
    missed = state(formulator, WISH | {"material_max": str(below)})
    assert missed.infeasibility is not None
    words = f"material a gallon at most ${below}"
    assert any(each.startswith(words.rstrip("0")) for each in missed.infeasibility.conflict)
