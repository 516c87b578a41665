"""The batch ticket: weights in order, room to write, protection first, never a price."""

import dataclasses
import re
from itertools import pairwise

import paper_samples as samples
import pytest

from blendshop.figures.readers import house
from orders.papers.batch_ticket_pdf import render_batch_ticket
from orders.papers.view_models import BatchTicketView, ChargeStep, TicketLot


def with_lots(steps, lots=2):
    """Each step's weight from so many lots, within a tolerance, some of them not as usual."""
    found = []
    for number, step in enumerate(steps, start=1):
        first = step.scale_step_lb * round(step.weight_lb / lots / step.scale_step_lb)
        taken = [first] * (lots - 1)
        weights = [*taken, step.weight_lb - sum(taken)]
        found.append(
            dataclasses.replace(
                step,
                tolerance_lb=10 * step.scale_step_lb,
                scale="main scale, 1 lb",
                lots=tuple(
                    TicketLot(f"L-2026-{number:02}{place}", weight, ("N 31.6 %, typical 32",))
                    for place, weight in enumerate(weights, start=1)
                ),
            )
        )
    return tuple(found)


def heights_of(page, words):
    """Where each of the words begins on the page, in points above its foot."""
    places = {}

    def note(text, cm, tm, *_):
        if text.strip() in words:
            places.setdefault(text.strip(), cm[5] + tm[5])

    page.extract_text(visitor_text=note)
    return [places[word] for word in words]


def test_the_first_page_is_what_the_load_is_charged_from(read):
    front = " ".join(read(render_batch_ticket(samples.batch_ticket())).pages[0].split())
    for text in (
        "Batch ticket B-2026-00107 Due March 12, 2026",
        "Tank Mix tank 2 (1,000 gal): 265.0 gal, 2,714.5 lb",
        "For O-2026-00031, Example Lawn Care: 1 × 275 gal returnable tote, filled to 265 gal",
        "Face shield and gloves on, each SDS read first.",
        "Hazards: page 2.",
        "☐ tank clean-out done ☐ jar test passed",
        "Density, lb/gal at 68 °F 10.60 to 10.85",
        "pH 7.5 to 9.0",
        "Looks clear, dark red",
        "Sample: 16 fl oz, keep 12 months",
        "Charged by Date, time Checked by Date, time Sample kept by Released by",
    ):
        assert text in front
    for behind in ("Rinsed by", "Eye and skin irritant", "CAUTION.", "quart jar", "driver calls"):
        assert behind not in front


def test_what_is_read_before_charging_stands_behind_it(read):
    paper = read(render_batch_ticket(samples.batch_ticket()))
    behind = " ".join(" ".join(paper.pages[1:]).split())
    for text in (
        "Read each stock's SDS before opening it.",
        "Eye and skin irritant. Corrodes copper, brass and zinc. Source: supplier SDS",
        "goggles; nitrile gloves",
        "Previous product in this tank: 18-0-0 with ferrous sulfate",
        "Rinsed by",
        "CAUTION. Iron EDTA with urea-triazone: chelated iron only.",
        "1. Fill a clear quart jar",
        "☐ layers, crystals, gel, gas or heat: stop, do not charge",
        "Customer Example Lawn Care",
        "Notes Pick-up at 7:00, driver calls ahead.",
        "Planned March 9, 2026",
    ):
        assert text in behind


def test_twelve_stocks_of_two_lots_each_fit_the_first_page_with_room_to_write(read):
    steps = with_lots(samples.charge_steps(12))
    paper = read(render_batch_ticket(samples.batch_ticket(steps=steps)))
    front = paper.pages[0]
    assert [lot.code for step in steps for lot in step.lots if lot.code not in front] == []
    assert "Charged by" in front
    assert front.count("± ") == 12
    rows = heights_of(
        paper.reader.pages[0], [step.lots[0].code + f": {_half(step)}" for step in steps]
    )
    # The caption's line, and a quarter of an inch below it.
    assert min(above - below for above, below in pairwise(rows)) >= 10 + 18


def _half(step):
    return house().scale_weight(step.lots[0].weight_lb, step.scale_step_lb)


def test_a_short_load_is_set_larger_than_a_long_one(read):
    def largest(count):
        page = read(render_batch_ticket(samples.batch_ticket(count))).reader.pages[0]
        sizes = {}
        page.extract_text(
            visitor_text=lambda text, cm, tm, font, size: sizes.update({text.strip(): size})
        )
        return sizes["1,225"]

    assert largest(4) > largest(10)


def test_of_four_lots_each_is_named_with_its_weight(read):
    steps = with_lots(samples.charge_steps(3), lots=4)
    front = read(render_batch_ticket(samples.batch_ticket(steps=steps))).pages[0]
    for step in steps:
        for lot in step.lots:
            weight = house().scale_weight(lot.weight_lb, step.scale_step_lb)
            assert f"{lot.code}: {weight}" in front


def test_what_a_lot_s_certificate_says_otherwise_stands_behind(read):
    steps = with_lots(samples.charge_steps(2))
    paper = read(render_batch_ticket(samples.batch_ticket(steps=steps)))
    assert "typical" not in paper.pages[0]
    assert "Lot L-2026-011, Water: N 31.6 %, typical 32" in paper.pages[1]


def test_a_load_for_several_orders_names_them_and_says_where_who_gets_what_stands(read):
    first = samples.batch_ticket().parts[0]
    second = dataclasses.replace(first, order_number="O-2026-00032", customer_name="Other Lawns")
    paper = read(render_batch_ticket(samples.batch_ticket(parts=(first, second))))
    assert "For O-2026-00031, O-2026-00032; who gets what: page 2" in " ".join(
        paper.pages[0].split()
    )
    assert "Part 2 O-2026-00032, Other Lawns: 1 × 275 gal returnable tote" in paper.flat


def test_a_stored_ticket_of_before_the_due_date_is_still_drawn(read):
    stored = samples.batch_ticket().to_json()
    del stored["due_on"]
    paper = read(render_batch_ticket(BatchTicketView.from_json(stored)))
    assert "Batch ticket B-2026-00107 Planned March 9, 2026" in " ".join(paper.pages[0].split())


def test_weights_stand_in_charging_order_with_the_running_total(read):
    flat = read(render_batch_ticket(samples.batch_ticket())).flat
    rows = re.findall(r"about [\d.]+ gal (?:· [A-Z][a-z ]+? )?([\d,.]+) ([\d,.]+)", flat)
    assert rows == [
        ("410", "410.0"),
        ("1,225", "1,635.0"),
        ("655", "2,290.0"),
        ("344", "2,634.0"),
        ("80.5", "2,714.5"),
    ]


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
    assert all("Lot, and below it the actual lb" in page for page in with_rows)
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
    assert "Density, lb/gal at 68 °F no window given; record" in flat
    assert "pH at least 7.0" in flat
    assert "jar test" not in flat.lower()
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
