"""From an empty database to a sent quote: nobody there, no stock, no price, no customer."""

import re
from collections.abc import Callable
from urllib.parse import urlsplit

from django.core.mail import EmailMessage
from playwright.sync_api import Page, expect

from blendshop.accounts.set_up import set_up_link
from blendshop.outbox.actions import deliver_overdue
from orders.models import Quote
from tests.browser.plant_pages import pdf_text

#: What this plant pays, invented: by label of the field.
COSTS = {
    "UAN solution 32-0-0": "374",
    "Urea-triazone solution 28-0-0 (72 % slow)": "1.10",
    "Potassium acetate solution 0-0-24": "1.45",
    "Water": "0",
}


def _press(page: Page, name: str) -> None:
    with page.expect_navigation():
        page.get_by_role("button", name=name, exact=True).click()


def _fill(page: Page, values: dict[str, str]) -> None:
    for label, value in values.items():
        page.get_by_label(label, exact=True).fill(value)


def _do_next(page: Page, heading: str) -> None:
    """The one primary step of the list, which must be the one expected."""
    page.goto("/start/")
    buttons = page.locator("main .btn-primary")
    expect(buttons).to_have_count(1)
    with page.expect_navigation():
        buttons.click()
    expect(page.get_by_role("heading", level=1)).to_have_text(heading)


def _become_first(page: Page) -> None:
    page.goto("/")
    expect(page.locator("main")).to_contain_text("manage.py start_plant --page")
    link = urlsplit(set_up_link())
    page.goto(f"{link.path}?{link.query}")
    _fill(
        page,
        {
            "Your name": "Olga Owner",
            "Email address": "olga@plant.example",
            "Password": "liquid-lawn-by-the-tote",
            "Password again": "liquid-lawn-by-the-tote",
        },
    )
    _press(page, "Begin")
    expect(page.get_by_role("heading", level=1)).to_have_text("First steps")


def _name_the_missing_step(page: Page) -> None:
    page.goto("/blend/?N_min=20")
    expect(page.locator("#answer")).to_contain_text("The catalogue has no base stock yet")
    with page.expect_navigation():
        page.locator("#answer").get_by_role("link", name="Go to: Stocks and their costs").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Stocks and their costs")


def _set_what_a_price_needs(page: Page) -> None:
    _do_next(page, "Plant profile")
    _fill(page, {"Name of the plant": "Alder Ford Liquids", "Address": "1 Mill Lane, Alder Ford"})
    _press(page, "Save")

    _do_next(page, "Stocks and their costs")
    for stock, cost in COSTS.items():
        page.get_by_label(f"Cost, {stock}", exact=True).fill(cost)
    page.get_by_label("Unit, Urea-triazone solution 28-0-0 (72 % slow)", exact=True).select_option(
        "lb"
    )
    page.get_by_label("Unit, Potassium acetate solution 0-0-24", exact=True).select_option("lb")
    _press(page, "Save the costs")
    expect(page.locator("#messages")).to_contain_text("4 costs recorded.")

    _do_next(page, "Prices")
    _fill(
        page,
        {
            "Shrink, % of material": "1.5",
            "Fee of a batch, $": "95",
            "Blending, $ per gal": "0.18",
            "Laboratory, $ per batch": "48",
            "Margin, % of the price": "24",
            "Floor, %": "14",
        },
    )
    _press(page, "Save")

    _do_next(page, "Packages")
    page.get_by_label("Kind").select_option("tote_sold")
    _fill(
        page,
        {
            "Name": "265 gal tote",
            "Nominal fill, gal": "265",
            "Weight empty, lb": "130",
            "Most it may weigh full, lb": "4400",
            "Price of the package, $": "145",
        },
    )
    _press(page, "Save")

    _do_next(page, "Tanks")
    _fill(page, {"Name": "Mix tank A", "Holds, gal": "600", "Smallest batch, gal": "40"})
    _press(page, "Save")

    _do_next(page, "Working days")
    page.get_by_label("Days the plant is closed").fill("12/25/2099 Christmas")
    _press(page, "Save")

    _do_next(page, "Delivery")
    page.get_by_label("Name of the zone").fill("Collected at the plant")
    page.get_by_label("Customers of it collect at the plant; no freight").check()
    _press(page, "Save")


def _name_the_people(page: Page) -> None:
    """One charges loads, another approves labels."""
    for name, email, role in (
        ("Pia Plant", "pia@plant.example", "plant"),
        ("Fred Formulator", "fred@plant.example", "formulator"),
    ):
        _do_next(page, "People")
        _fill(page, {"Name": name, "Email address": email})
        page.get_by_role("checkbox", name=re.compile(f"{role}: ")).check()
        _press(page, "Save")


def _add_the_customer(page: Page) -> None:
    _do_next(page, "Customers")
    with page.expect_navigation():
        page.get_by_role("link", name="New customer").click()
    page.get_by_label("Name", exact=True).fill("Heron Lawns")
    _press(page, "Save")
    _fill(page, {"Name": "Cora Customer", "Email address": "cora@heron.example"})
    _press(page, "Add and mail a password link")
    with page.expect_navigation():
        page.get_by_role("link", name="Add an address").click()
    _fill(
        page,
        {
            "Name of the place": "Yard",
            "Street": "2 Heron Way",
            "City": "Alder Ford",
            "State": "MD",
            "Postal code": "00000",
        },
    )
    page.get_by_label("Freight zone").select_option(label="Collected at the plant")
    _press(page, "Save")


def _look_up_the_fee(page: Page) -> None:
    """The customer's state is asked for, with the shipped figure to check."""
    _do_next(page, "State fees")
    expect(page.get_by_label("State", exact=True)).to_have_value("MD")
    _press(page, "Save")


def _send_the_quote(page: Page) -> str:
    _do_next(page, "Blend")
    page.get_by_label("Total nitrogen at least, %").fill("20")
    page.get_by_label("Slow release at least, % of total N").fill("50")
    page.get_by_label("Soluble potash at least, %").fill("2")
    expect(page.locator("#answer")).to_contain_text("20-0-2")
    expect(page.locator("#answer")).to_contain_text("per gal")
    page.get_by_label("Customer", exact=True).select_option(label="Heron Lawns")
    page.get_by_label("Name to save it under").fill("Half slow twenty")
    with page.expect_navigation():
        page.get_by_role("button", name="Save and quote").click()
    expect(page.get_by_role("heading", name="New quote")).to_be_visible()
    expect(page.locator("#quote-preview")).to_contain_text("Margin")
    with page.expect_navigation():
        page.get_by_role("button", name="Save draft").last.click()
    number = page.url.rstrip("/").rsplit("/", 1)[-1]
    with page.expect_navigation():
        page.get_by_role("button", name=re.compile("^Send")).click()
    expect(page.locator("main")).to_contain_text("sent")
    return number


def test_from_an_empty_plant_to_a_sent_quote(
    page_for: Callable[..., Page], mailoutbox: list[EmailMessage]
) -> None:
    page = page_for(None, width=1280, height=800)
    _become_first(page)
    _name_the_missing_step(page)
    _set_what_a_price_needs(page)
    _name_the_people(page)
    _add_the_customer(page)
    _look_up_the_fee(page)
    number = _send_the_quote(page)

    quote = Quote.objects.get(number=number)
    assert quote.status == Quote.Status.SENT
    deliver_overdue.call()
    assert [mail.to for mail in mailoutbox if number in mail.subject] == [["cora@heron.example"]]
    assert "Alder Ford Liquids" in pdf_text(page, f"/quotes/{number}/pdf/")

    # What is left is the floor's, and the list says whose.
    page.goto("/start/")
    expect(page.locator("main")).to_contain_text("1 step is left.")
    expect(page.locator("main")).to_contain_text("not done; does it: plant, formulator")
    visitor = page_for(None)
    visitor.goto("/")
    expect(visitor.get_by_role("heading", level=1)).to_have_text("Sign in")
