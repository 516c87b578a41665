"""The batch ticket: weights in order, room to write, protection first, never a price."""

import dataclasses
import re

import paper_samples as samples
import pytest

from orders.papers.batch_ticket_pdf import render_batch_ticket
from orders.papers.view_models import BatchTicketView, ChargeStep


def test_a_ticket_tells_the_plant_everything_it_needs(read):
    flat = read(render_batch_ticket(samples.batch_ticket())).flat
    for text in (
        "Batch ticket B-2026-00107 Planned for March 9, 2026",
        "Customer Example Lawn Care",
        "Order O-2026-00031",
        "Package 1 × 275 gal returnable tote, filled to 265 gal",
        "Tank Mix tank 2 (1,000 gal)",
        "Target 265.0 gal, 2,714.5 lb",
        "Previous product in this tank: 18-0-0 with ferrous sulfate",
        "Rinsed by",
        "Read each stock's SDS before opening it.",
        "eye and skin irritant; corrodes copper, brass and zinc Source: supplier SDS",
        "goggles; nitrile gloves",
        "CAUTION. Iron EDTA with urea-triazone: chelated iron only.",
        "1. Fill a clear quart jar",
        "☐ layers, crystals, gel, gas or heat: stop, do not charge",
        "Actual, lb Lot number Initials",
        "Density 10.60 to 10.85 lb/gal at 68 °F",
        "pH 7.5 to 9.0",
        "Appearance clear, dark red",
        "Sample retained 16 fl oz, keep 12 months",
        "Released by",
    ):
        assert text in flat


def test_weights_stand_in_charging_order_with_the_running_total(read):
    flat = read(render_batch_ticket(samples.batch_ticket())).flat
    rows = re.findall(r"about [\d.]+ gal (?:[A-Z][a-z ]+? )?([\d,.]+) ([\d,.]+)", flat)
    assert rows == [
        ("410", "410.0"),
        ("1,225", "1,635.0"),
        ("655", "2,290.0"),
        ("344", "2,634.0"),
        ("80.5", "2,714.5"),
    ]


def test_protection_and_clean_out_come_before_the_weights(read):
    text = read(render_batch_ticket(samples.batch_ticket())).text
    places = [
        text.index(heading)
        for heading in (
            "Tank clean-out",
            "Protection and hazards",
            "Mixing cautions",
            "Jar test before charging",
            "Weigh and charge in this order",
            "Checks",
            "Sign-off",
        )
    ]
    assert places == sorted(places)


def test_a_ticket_has_no_place_for_a_price(read):
    names = {f.name for cls in (BatchTicketView, ChargeStep) for f in dataclasses.fields(cls)}
    assert not [name for name in names if re.search("price|cost|total_amount|margin", name)]
    text = read(render_batch_ticket(samples.batch_ticket())).text
    assert not re.search(r"[$€£]|price|cost", text, re.IGNORECASE)


@pytest.mark.parametrize("count", [30, 60])
def test_a_long_recipe_repeats_the_header_row_on_each_page_it_fills(read, count):
    paper = read(render_batch_ticket(samples.batch_ticket(count)))
    with_rows = [page for page in paper.pages if re.search(r"about [\d.]+ gal", page)]
    assert len(with_rows) >= count // 15
    assert all("Lot number" in page for page in with_rows)
    assert len(re.findall(r"about [\d.]+ gal", paper.text)) == count


def test_a_row_is_never_torn_between_two_pages(read):
    steps = samples.charge_steps(30, samples.LONG_NAME)
    paper = read(render_batch_ticket(samples.batch_ticket(steps=steps)))
    for page in paper.pages:
        text = " ".join(page.split())
        assert text.count(samples.LONG_NAME) == len(re.findall(r"about [\d.]+ gal", text))


def test_a_ticket_without_windows_safety_data_or_jar_test_still_warns(read):
    view = samples.batch_ticket(
        density_low_lb_per_gal=None,
        density_high_lb_per_gal=None,
        ph_low=7.0,
        ph_high=None,
        safety=(),
        findings=(),
        jar_test_steps=(),
        previous_product="",
    )
    flat = read(render_batch_ticket(view)).flat
    assert "Read each stock's SDS before opening it." in flat
    assert "Previous product in this tank: not known, ask before charging" in flat
    assert "Density no window given; record" in flat
    assert "pH at least 7.0" in flat
    assert "Jar test" not in flat
    assert "Mixing cautions" not in flat


def test_the_batch_page_is_linked_and_printed(read):
    view = samples.batch_ticket()
    paper = read(render_batch_ticket(view))
    assert paper.links == {view.page_url}
    assert view.page_url in paper.text


def test_a_running_total_that_does_not_add_up_is_refused():
    first, second, *rest = samples.charge_steps(5)
    wrong = dataclasses.replace(second, running_total_lb=second.running_total_lb + 1)
    with pytest.raises(ValueError, match=r"UTZ28 is 1636\.0 lb.*add up to 1635\.0 lb"):
        samples.batch_ticket(steps=(first, wrong, *rest))
