"""The whole job in one browser session each: wish, alternative, quote, order, batch, reorder."""

import os
import re
from collections.abc import Callable
from pathlib import Path

import pytest
from django.core.mail import EmailMessage
from playwright.sync_api import Page, expect

from blendshop.accounts.models import User
from blendshop.outbox.actions import deliver_overdue
from formulas.models import Blend
from orders.models import Order, Quote
from tests.browser.plant_pages import pdf_text
from tests.demo_rows import put_in_demo

#: The README shows this picture; run with BLENDSHOP_PICTURE=1 to take it anew.
PICTURE = Path(__file__).resolve().parents[2] / "blendshop/static/shop/blend-page.png"
BLEND = "Fairway wish, relaxed"


pytestmark = pytest.mark.any_database


@pytest.fixture
def demo(transactional_db: None) -> None:
    put_in_demo()


def _person(email: str) -> User:
    return User.objects.get(email=email)


def _wish_and_quote(page: Page) -> str:
    """The rep: out of reach, an alternative, saved, quoted, sent. Returns the quote's number."""
    page.goto("/blend/")
    page.get_by_label("Total nitrogen at least, %").fill("28")
    page.get_by_label("Soluble potash at least, %").fill("5")
    page.get_by_label("Slow release at least, % of total N").fill("50")
    expect(page.get_by_role("heading", name="Out of reach")).to_be_visible()
    expect(page.locator("#answer")).to_contain_text("total nitrogen at least 28 %")
    page.get_by_role("button", name="Take this one").first.click()
    expect(page.locator("#answer")).to_contain_text("Together")
    expect(page.get_by_label("Total nitrogen at least, %")).not_to_have_value("28")

    page.get_by_label("Customer", exact=True).select_option(label="Plover Lane Lawns (demo)")
    page.get_by_label("Name to save it under").fill(BLEND)
    page.get_by_role("button", name="Save and quote").click()

    expect(page.get_by_role("heading", name="New quote")).to_be_visible()
    page.get_by_label("Ship to").select_option(label="Main yard, Amberly MD")
    expect(page.locator("#quote-preview")).to_contain_text("Margin")
    page.get_by_role("button", name="Save draft").last.click()
    page.wait_for_url(re.compile(r"/quotes/Q-\d+-\d+/$"))
    number = page.url.rstrip("/").rsplit("/", 1)[-1]
    with page.expect_navigation():
        page.get_by_role("button", name=re.compile("^Send")).click()
    expect(page.locator("main")).to_contain_text("sent")
    return number


def _review(formulator: Page, batch_number: str) -> None:
    """From the batch to its recipe, the cautions, and the word that they are in order."""
    formulator.goto(f"/batches/{batch_number}/")
    with formulator.expect_navigation():
        formulator.get_by_role("link", name="To the recipe and its review").click()
    with formulator.expect_navigation():
        formulator.get_by_role("button", name="Recipe and cautions are in order").click()
    expect(formulator.locator("main")).to_contain_text("is reviewed")


def test_the_whole_job_from_a_call_to_the_reorder(
    demo: None,
    page_for: Callable[..., Page],
    mailoutbox: list[EmailMessage],
) -> None:
    # The rep, on the phone.
    rep = page_for(_person("rep@thistleford.example"))
    number = _wish_and_quote(rep)
    quote = Quote.objects.get(number=number)
    assert quote.status == Quote.Status.SENT
    quote_text = pdf_text(rep, f"/quotes/{number}/pdf/")
    assert BLEND in quote_text
    assert "25-0-5" in quote_text
    assert "argin" not in quote_text

    # The customer, from the mail, without a login.
    deliver_overdue.call()
    mail = next(m for m in mailoutbox if number in m.subject)
    link = next(word for word in mail.body.split() if "/q/" in word)
    visitor = page_for(None)
    visitor.goto("/q/" + link.split("/q/")[1])
    expect(visitor.locator("main")).to_contain_text(BLEND)
    assert "margin" not in visitor.content().lower()
    visitor.locator(".accept-bar").get_by_label("Your name").fill("Dana Demo-Owner")
    with visitor.expect_navigation():
        visitor.get_by_role("button", name=re.compile("^Accept")).click()
    with visitor.expect_navigation():
        visitor.get_by_role("button", name=re.compile("^Yes, accept")).click()
    expect(visitor.locator("main")).to_contain_text("accepted")
    order = Order.objects.get(quote=quote)

    # The plant, on a tablet.
    plant = page_for(_person("plant@thistleford.example"), width=820, height=1180)
    plant.goto("/orders/")
    with plant.expect_navigation():
        plant.get_by_role("link", name=order.number).click()
    assert "$" not in plant.content()
    with plant.expect_navigation():
        plant.get_by_role("button", name=re.compile("^Plan")).click()
    batch_number = order.lines.get().parts.get().batch.number
    plant.goto(f"/batches/{batch_number}/")
    # Nobody has reviewed the new recipe: it is planned, and nothing is weighed of it yet.
    expect(plant.locator("#review")).to_contain_text("no formulator has reviewed")
    expect(plant.get_by_role("link", name="Weigh and charge")).to_have_count(0)
    _review(page_for(_person("formulator@thistleford.example")), batch_number)
    plant.reload()
    expect(plant.get_by_role("link", name="Weigh and charge")).to_be_visible()
    ticket = pdf_text(plant, f"/batches/{batch_number}/ticket.pdf")
    assert batch_number in ticket
    assert "Stock, charged in this order" in ticket
    assert "$" not in ticket
    label = pdf_text(plant, f"/batches/{batch_number}/parts/1/label/letter.pdf")
    assert "DRAFT for review" in label
    assert "GUARANTEED ANALYSIS" in label.upper()
    assert "Derived from" in label

    # The customer, next season: signs in with a password and reorders.
    customer = page_for(None)
    customer.goto("/people/login/")
    customer.get_by_label("Email").fill("owner@ploverlane.example")
    customer.get_by_label("Password", exact=True).fill("tote-by-tote-2026")
    with customer.expect_navigation():
        customer.get_by_role("button", name="Sign in").click()
    blend = Blend.objects.get(name=BLEND)
    customer.goto(f"/blends/{blend.pk}/")
    with customer.expect_navigation():
        customer.locator("main").get_by_role("link", name="Order", exact=True).click()
    expect(customer.locator("main")).to_contain_text(BLEND)
    # A formulator has reviewed the recipe by now and it is within what was agreed: an order.
    customer.get_by_role("button", name="Order now").click()
    customer.wait_for_url(re.compile(r"/orders/O-\d+-\d+/"))
    again = Order.objects.exclude(pk=order.pk).get(lines__revision__blend=blend)
    assert (again.company, again.status) == (blend.company, Order.Status.OPEN)
    assert again.lines.get().revision == order.lines.get().revision


def test_the_picture_of_the_main_page_is_of_this_page(
    demo: None, page_for: Callable[..., Page], tmp_path: Path
) -> None:
    page = page_for(_person("rep@thistleford.example"), width=1366, height=900)
    page.goto("/blend/")
    page.get_by_label("Total nitrogen at least, %").fill("22")
    page.get_by_label("Soluble potash at least, %").fill("2")
    page.get_by_label("Iron at least, %").fill("0.1")
    page.get_by_label("Slow release at least, % of total N").fill("50")
    expect(page.locator("#answer")).to_contain_text(re.compile(r"22-0-2\s+5\d\.\d % of N slow"))
    picture = tmp_path / "blend-page.png"
    page.screenshot(path=picture)
    if os.environ.get("BLENDSHOP_PICTURE"):
        PICTURE.write_bytes(picture.read_bytes())
    kept = PICTURE.read_bytes()
    assert kept.startswith(b"\x89PNG")
    assert kept[16:24] == picture.read_bytes()[16:24], "the README's picture has another size"
