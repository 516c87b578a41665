"""A season of 40 acres on a phone: rounds typed, totes reserved, the first round released."""

from datetime import date

import pytest
from playwright.sync_api import expect

from orders.models import (
    Order,
    Package,
    ProgramProperty,
    ProgramRound,
    Property,
    SeasonProgram,
    StandingRound,
)
from tests.factories import ShipToFactory, today
from tests.orders.ordering.gate_cases import agree_limits, review
from tests.orders.planning.plant_cases import save_half_slow

pytestmark = pytest.mark.browser


def test_forty_acres_reserved_and_the_first_round_released(shop, page_for, company, customer):
    revision = save_half_slow(customer, company, "Lawn feed")
    review(revision)
    agree_limits(company)
    year = today().year + 1
    program = SeasonProgram.objects.create(
        company=company,
        name="Lawns",
        year=year,
        ship_to=ShipToFactory(company=company),
        package=Package.objects.get(code="tote-265"),
        made_by=customer,
    )
    lawn = Property.objects.create(company=company, name="Route A", acres=40, state="MD")
    ProgramProperty.objects.create(program=program, property=lawn)
    for name, month in (("Spring", 4), ("Fall", 9)):
        ProgramRound.objects.create(
            program=program,
            name=name,
            on=date(year, month, 20),
            revision=revision,
            n_rate_lb_per_1000sqft=1.1,
        )

    page = page_for(customer, width=390, height=844)
    page.goto("/seasons/")
    page.get_by_role("link", name=f"Lawns {year}").click()
    expect(page.get_by_text("2 limits are broken").first).to_be_visible()
    page.get_by_role("button", name="Use this rate Spring").click()
    expect(page.get_by_text("1 limit is broken").first).to_be_visible()
    page.get_by_label("lb N per 1,000 sq ft Fall").fill("0.7")
    page.get_by_role("button", name="Save and figure again").click()
    expect(page.get_by_text("no broken limit known, not all assessed")).to_be_visible()
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    page.get_by_role("button", name="Reserve these totes").click()
    expect(page.get_by_text("Reserved as SO-").first).to_be_visible()
    assert StandingRound.objects.waiting().count() == 2

    page.get_by_role("link", name="Release 3 Spring").click()
    expect(page.get_by_text("Price per gal unchanged")).to_be_visible()
    page.get_by_role("button", name="Order now").click()
    expect(page.get_by_text("Spring is released: order")).to_be_visible()
    order = Order.objects.get()
    assert (order.status, order.lines.get().quantity) == ("open", 3)
    assert order.wanted_on == date(year, 4, 20)
    assert StandingRound.objects.get(name="Spring").order == order
