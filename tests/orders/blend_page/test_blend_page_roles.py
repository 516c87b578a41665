"""The blend page: each role reads its own answer and its own price."""

import re

from django.urls import reverse

from blendshop.accounts.models import Company, User
from orders.models import Package
from tests.factories import (
    ShipToFactory,
)
from tests.orders.blend_page.blend_page_cases import (
    OUT_OF_REACH,
    WISH,
    SignIn,
    answer_text,
    page_text,
)


def test_the_rep_sees_recipe_price_steps_cost_and_what_a_wish_costs(
    rep: User, signed_in: SignIn
) -> None:
    client = signed_in(rep)
    html = answer_text(client, WISH) + answer_text(client, WISH | {"part": "curve"})
    for words in (
        "24-0-2",
        "50.0 % of N slow release",
        "urea-triazone solution",
        "Price, step by step",
        "Margin",
        "Shrink",
        "What a wish costs",
        "total nitrogen at least 25 %",
        "slow release at least 45 % of N",
    ):
        assert words in html


def test_a_customer_sees_prices_and_never_costs_margin_or_steps(
    customer: User, signed_in: SignIn
) -> None:
    client = signed_in(customer)
    pages = [answer_text(client, typed) for typed in (WISH, OUT_OF_REACH, WISH | {"part": "curve"})]
    whole = page_text(client, WISH | {"part": "curve"})
    for html in (*pages, whole[whole.index('id="workspace"') :]):
        for word in ("cost", "margin", "shrink", "step by step"):
            assert word not in html.lower(), word
    assert "per gal" in whole
    assert "Price per 1000 sq ft" in whole


def test_no_amount_of_the_price_steps_reaches_the_customer(
    customer: User, rep: User, signed_in: SignIn
) -> None:
    """The same blend for the same company: the rep's inner amounts stand nowhere."""
    typed = WISH | {"company": str(customer.company_id)}
    rep_html = answer_text(signed_in(rep), typed)
    steps = rep_html[rep_html.index("Price, step by step") :].split("</table>")[0]
    amounts = set(re.findall(r"\$[\d,.]+", steps))
    customer_html = page_text(signed_in(customer), typed | {"part": "curve"})
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
    html = page_text(client, WISH | {"company": str(stranger.company_id)})
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
    picked_up = answer_text(client, WISH | {"company": str(company.pk), "ship_to": ""})
    delivered = answer_text(client, WISH | {"company": str(company.pk), "ship_to": str(place.pk)})
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
    html = answer_text(signed_in(rep), typed)
    assert 'id="ship-to-line" hx-swap-oob="true"' in html
    assert re.search(r"<option[^>]*selected[^>]*>New yard", html)
    assert "Old yard" not in html


def test_without_a_price_policy_the_blend_still_stands_and_the_page_says_why(
    rep: User, signed_in: SignIn
) -> None:
    Package.objects.update(max_gross_lb=200)
    html = answer_text(signed_in(rep), WISH)
    assert 'class="grade">24-0-2' in html
    assert "This cannot be priced" in html
