"""The quote sheet and the customer's answer, in a browser with scripts and a phone without."""

import re

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.urls import reverse
from playwright.sync_api import expect

from blendshop.accounts.models import User
from orders.models import Order, Package, Quote
from orders.quoting.actions.quotes import draft_quote, send_quote
from orders.quoting.draft_prices import DraftLine
from orders.quoting.links import quote_token
from tests.orders.quoting.quote_cases import make_quotable, make_revision


@pytest.fixture
def world(transactional_db, company, rep, stranger):
    revision, ship_to = make_quotable(company, rep)
    make_revision(stranger.company, rep, name="Elsewhere mix")
    return {"revision": revision, "ship_to": ship_to, "company": company}


def draft(world, rep):
    return draft_quote(
        acting_user=rep,
        company=world["company"],
        ship_to=world["ship_to"],
        lines=[
            DraftLine(
                revision=world["revision"],
                package=Package.objects.get(),
                quantity=2,
                n_rate_lb_per_1000sqft=0.5,
            )
        ],
        validity_days=30,
    )


def accessible(page):
    found = Axe().run(page, context="main")
    assert found.violations_count == 0, found.generate_report()


def fits(page):
    """Nothing makes the whole page scroll sideways."""
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")


def test_the_price_follows_what_the_rep_types(page_for, world, rep):
    page = page_for(rep)
    page.goto(reverse("quote_new") + f"?revision={world['revision'].pk}")
    preview = page.locator("#quote-preview")
    expect(preview).to_contain_text("265.0 gal, 2,650.0 lb net")
    page.get_by_label("Quantity").fill("3")
    expect(preview).to_contain_text("795.0 gal")
    page.get_by_role("button", name="Add a line").click()
    expect(page.get_by_role("group", name="Line 2")).to_be_visible()
    expect(preview).to_contain_text("once customer, address and lines are complete")
    page.get_by_role("button", name="Remove line 2").click()
    expect(page.get_by_role("group", name="Line 2")).to_have_count(0)
    expect(preview).to_contain_text("795.0 gal")
    accessible(page)
    page.get_by_label("Quantity").press("Enter")
    page.wait_for_url(re.compile(r"/quotes/Q-"))
    assert Quote.objects.get().lines.get().quantity == 3
    accessible(page)


def test_another_customer_brings_its_own_blends(page_for, world, rep, stranger):
    page = page_for(rep)
    page.goto(reverse("quote_new") + f"?revision={world['revision'].pk}")
    page.get_by_label("Customer", exact=True).select_option(label=stranger.company.name)
    expect(page.get_by_label("Blend", exact=True)).to_contain_text("Elsewhere mix")
    expect(page.get_by_label("Ship to").locator("option")).to_have_count(1)


def test_every_page_of_a_quote_fits_and_is_accessible(page_for, world, rep, customer):
    quote = draft(world, rep)
    page = page_for(rep)
    for address in (
        reverse("quote_list"),
        reverse("quote_detail", args=[quote.number]),
        reverse("quote_edit", args=[quote.number]),
        reverse("customer_list"),
        reverse("customer_new"),
        reverse("customer_detail", args=[world["company"].pk]),
        reverse("customer_add_ship_to", args=[world["company"].pk]),
    ):
        page.goto(address)
        _at_both_widths(page)
    send_quote(quote=quote, acting_user=User.objects.get(pk=rep.pk))
    own = page_for(customer)
    for address in (reverse("quote_list"), reverse("quote_detail", args=[quote.number])):
        own.goto(address)
        _at_both_widths(own)


def _at_both_widths(page):
    for width in (1366, 360):
        page.set_viewport_size({"width": width, "height": 768})
        fits(page)
        accessible(page)


def test_a_visitor_accepts_by_the_link_on_a_phone(page_for, world, rep):
    quote = draft(world, rep)
    send_quote(quote=quote, acting_user=rep)
    page = page_for(None, width=390, height=844)
    page.goto(reverse("quote_public", args=[quote_token(quote)]))
    fits(page)
    accessible(page)
    name = page.locator(".accept-bar").get_by_label("Your name")
    accept = page.get_by_role("button", name="Accept $")
    for shown in (page.get_by_text("Price, delivered"), name, accept):
        box = shown.bounding_box()
        assert box["y"] >= 0
        assert box["y"] + box["height"] <= 844, "in view without scrolling"
    name.fill("Casey Owner")
    accept.click()
    agree = page.get_by_role("button", name="Yes, accept $")
    expect(agree).to_be_visible()
    fits(page)
    accessible(page)
    agree.click()
    expect(page.get_by_text("Thank you, Casey Owner.")).to_be_visible()
    assert Order.objects.get().quote == quote


def test_with_two_to_choose_from_accept_is_still_on_a_phones_first_screen(page_for, world, rep):
    tote = Package.objects.get()
    other = make_revision(world["company"], rep, name="Summer green for the south yards")
    lines = [
        DraftLine(revision=revision, package=tote, quantity=2, alternative=True)
        for revision in (world["revision"], other)
    ]
    quote = draft_quote(
        acting_user=rep,
        company=world["company"],
        ship_to=world["ship_to"],
        lines=lines,
        validity_days=30,
    )
    send_quote(quote=quote, acting_user=rep)
    page = page_for(None, width=390, height=844)
    page.goto(reverse("quote_public", args=[quote_token(quote)]))
    fits(page)
    radios = page.get_by_role("radio")
    expect(radios).to_have_count(2)
    accept = page.get_by_role("button", name="Accept")
    for shown in (page.get_by_text("Price, delivered"), radios.first, radios.last, accept):
        box = shown.bounding_box()
        assert box["y"] >= 0
        assert box["y"] + box["height"] <= 844, "in view without scrolling"
    radios.last.check()
    page.locator(".accept-bar").get_by_label("Your name").fill("Casey Owner")
    accept.click()
    expect(page.get_by_text("What happens next")).to_be_visible()
    expect(page.get_by_role("listitem")).to_contain_text("Summer green for the south yards")
    assert not Order.objects.exists()


def test_a_price_that_was_asked_for_becomes_a_discount_by_one_press(page_for, world, rep):
    page = page_for(rep)
    page.goto(reverse("quote_new") + f"?revision={world['revision'].pk}")
    preview = page.locator("#quote-preview")
    expect(preview).to_contain_text("265.0 gal")
    page.get_by_text("Negotiate", exact=True).click()
    page.get_by_label("Negotiated", exact=True).select_option("price_line")
    page.get_by_label("How much", exact=True).fill("700")
    expect(preview).to_contain_text("$700.00")
    expect(preview).to_contain_text("the floor of")
    fits(page)
    page.get_by_role("button", name="Show it as a discount of").click()
    expect(page.get_by_label("Negotiated", exact=True)).to_have_value("off_line")
    expect(preview).to_contain_text("Discount")
    expect(preview.locator(".fs-4 strong")).to_have_text("$700.00")
    accessible(page)
