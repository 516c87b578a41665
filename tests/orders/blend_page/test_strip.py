"""The strip under grade and price: what is known stands, what is missing is asked, never green."""

import re
from decimal import Decimal
from typing import Any

from django.test import Client
from django.urls import reverse

from blendshop.accounts.models import User
from formulas.models import BaseStock
from tests.orders.blend_page.blend_page_cases import HTMX, WISH, SignIn, answer_text
from tests.orders.inventory.stock_cases import make_lot


def page_state(client: Client, typed: dict[str, str]) -> Any:
    return client.get(reverse("blend_page"), typed).context["state"]


def results(html: str) -> dict[str, tuple[str, str]]:
    """Standing and sentence of each result by its title."""
    strip = html[html.index('<ul class="strip"') :]
    strip = strip[: strip.index("</ul>")]
    rows = re.findall(
        r'strip-result strip-(\w+)">.*?strip-title">(.*?)<.*?strip-why">(.*?)<', strip, re.DOTALL
    )
    return {title: (slug, why) for slug, title, why in rows}


def test_rate_and_water_decide_burn_and_a_stop_is_in_the_verdict(
    rep: User, signed_in: SignIn
) -> None:
    client = signed_in(rep)
    mild = answer_text(client, WISH | {"n_rate": "0.4", "carrier": "2", "air": "75"})
    assert results(mild)["Burn"] == ("clear", "Low risk at 0.4 lb N in 2 gal per 1000 sq ft.")
    assert "verdict-stop" not in mild
    hot = answer_text(client, WISH | {"n_rate": "1", "carrier": "1", "air": "95"})
    assert results(hot)["Burn"][0] == "stop"
    assert next(iter(results(hot))) == "Burn", "worst first"
    assert "verdict-stop" in hot


def test_what_is_not_known_says_what_is_missing(rep: User, signed_in: SignIn) -> None:
    found = results(answer_text(signed_in(rep), WISH))
    assert found["Law"] == ("unknown", "Where is it sprayed?")
    assert found["Stock on hand"] == ("unknown", "No lots are received yet.")
    assert found["Jar test"] == ("unknown", "No jar vouches for it: test one before the batch.")


def test_too_little_on_hand_says_how_much_of_what_is_short(
    rep: User, formulator: User, signed_in: SignIn
) -> None:
    make_lot(BaseStock.objects.get(code="UAN"), formulator, Decimal("10.000"))
    standing, why = results(answer_text(signed_in(rep), WISH | {"quantity": "4"}))["Stock on hand"]
    assert standing == "caution"
    assert re.match(r"Short [\d,]+ lb of .+ by \w+ \d+, \d{4} and 2 stocks more", why)


def test_a_customer_reads_no_stock_on_hand(customer: User, signed_in: SignIn) -> None:
    assert list(results(answer_text(signed_in(customer), WISH)))  # there is a strip
    assert "Stock on hand" not in results(answer_text(signed_in(customer), WISH))


def test_where_stock_is_short_the_strip_says_what_it_costs_as_stock_allows(
    rep: User, formulator: User, signed_in: SignIn
) -> None:
    client = signed_in(rep)
    wish = WISH | {"quantity": "4"}
    free = {row.code: Decimal(str(row.lb)) for row in page_state(client, wish).blend.recipe}
    for code, pounds in free.items():
        short = code == "UAN"
        on_hand = round(pounds * (1 if short else 20) / 2, 3)
        make_lot(BaseStock.objects.get(code=code), formulator, on_hand)
    as_asked = page_state(client, wish)
    assert as_asked.is_short
    limited = page_state(client, wish | {"on_hand": "on"})
    assert not limited.is_short  # it is asked no more
    part = client.post(reverse("blend_answer"), wish | {"part": "stock"}, headers=HTMX)
    more = limited.price.per_gal - as_asked.price.per_gal
    assert more > 0
    said = f"As stock allows: ${limited.price.per_gal} per gal, ${more} more."
    strip = part.text[part.text.index('id="stock-more"') :]
    assert said in part.text
    assert said in strip
    assert "stock-allows" not in answer_text(client, WISH | {"N_min": "10", "quantity": "1"})


def test_where_stock_allows_no_such_blend_that_is_said(
    rep: User, formulator: User, signed_in: SignIn
) -> None:
    make_lot(BaseStock.objects.get(code="UAN"), formulator, Decimal("10.000"))
    wish = WISH | {"part": "stock"}
    part = signed_in(rep).post(reverse("blend_answer"), wish, headers=HTMX).text
    assert "As stock allows: no such blend." in part
