"""What a price says of its load, to whom, and when there is none."""

from dataclasses import replace
from decimal import Decimal

import pytest
from django.core import mail
from django.urls import reverse

from blendshop.errors import BadInput
from blendshop.figures.writing import Figures
from blendshop.outbox.actions import deliver_overdue
from formulas.engine.plant.load import ScaleKind
from formulas.engine_bridge import load_catalogue
from orders.frozen.line_price import LinePrice
from orders.frozen.quoted_load import QuotedLoad, QuotedWeighing
from orders.models import LabelPromise, Package, PriceTier, QuantityBreak, Tank
from orders.planning.default_load import tanks_in_use
from orders.quoting.actions.quotes import draft_quote, send_quote, submit_quote
from orders.quoting.draft_prices import DraftLine, price_draft
from orders.quoting.links import quote_url
from orders.quoting.load_words import load_words, weighed_words
from orders.quoting.price import price_breaks, price_lines
from orders.quoting.requests import request_for
from orders.reordering.preview import WantedLine, preview
from tests.factories import TankFactory, today
from tests.orders.labels.label_cases import text_of
from tests.orders.planning.plant_cases import save_half_slow

FOR_STAFF = "Priced for one load of 530 gal in Tank 1, weighed to 1 lb, on target ± 0.5 %."
FOR_CUSTOMERS = "Each stock is weighed to within 0.5 %"
#: 24 % N and not a hundredth more: no scale can weigh it.
NO_ROOM = {"targets": [{"nutrient": "N", "min": 24, "max": 24}, {"nutrient": "K2O", "min": 3}]}


def weighing(code: str, weight_lb: float) -> QuotedWeighing:
    return QuotedWeighing(
        code=code, name=code, weight_lb=weight_lb, tolerance_lb=1.0, scale=ScaleKind.MAIN
    )


def load(**changes) -> QuotedLoad:
    whole = QuotedLoad(
        tank="Tank 2",
        loads=1,
        volume_gal=Decimal(530),
        scale_step_lb=1.0,
        tolerance_pct=0.5,
        reached_pct=0.5,
        steps=(weighing("UAN", 30.0), weighing("WATER", 10.0)),
        made_gal=532.0,
        mass_lb=40.0,
        density_lb_per_gal=10.0,
        analysis={},
        slow_release_pct=None,
        least_pct={},
        cost=Decimal("53.20"),
        room_cost_per_gal=Decimal("0.0300"),
    )
    return replace(whole, **changes)


ONE = "Priced for one load of 530 gal in Tank 2, weighed to 1 lb"


@pytest.mark.parametrize(
    ("changes", "begins", "ends"),
    [
        ({}, ONE, ", on target ± 0.5 %."),
        (
            {"loads": 2, "volume_gal": Decimal("662.5"), "scale_step_lb": 2.0},
            "Priced for 2 loads of 662.5 gal each in Tank 2, weighed to 2 lb",
            ", on target ± 0.5 %.",
        ),
        (
            {"fine_step_lb": 0.1, "fine_max_lb": 100.0},
            f"{ONE} (to 0.1 lb up to 100 lb)",
            ", on target ± 0.5 %.",
        ),
        (
            {"reached_pct": 0.3},
            f"{ONE}, on target ± 0.3 %.",
            " The wish leaves no more room than that; 0.5 % was wanted.",
        ),
        (
            {"is_below_smallest": True},
            f"{ONE}, on target ± 0.5 %.",
            " Tank 2 cannot blend so little alone: it has to be made with other orders.",
        ),
    ],
)
def test_the_load_in_one_line(changes, begins, ends):
    assert load_words(load(**changes), Figures()) == begins + ends


def test_shares_and_cost_of_a_gallon_follow_from_what_was_kept():
    assert load().shares_pct == {"UAN": 75.0, "WATER": 25.0}
    assert load().cost_per_gal == Decimal("0.1")
    assert "Tank" not in weighed_words(load(), Figures())


def test_a_line_of_before_loads_reads_without_one(sent):
    (line,) = sent.lines.all()
    stored = {key: part for key, part in line.price.items() if key != "load"}
    before = LinePrice.from_json(stored)
    assert before.load is None
    assert before.to_json() == stored


def test_staff_read_the_load_and_customers_how_it_is_weighed(
    draft, rep, customer, signed_in, client
):
    page = signed_in(rep).get(reverse("quote_detail", args=[draft.number])).content.decode()
    assert FOR_STAFF in page
    send_quote(quote=draft, acting_user=rep)
    deliver_overdue.call()
    public = client.get(quote_url(draft)).content.decode()
    own = signed_in(customer).get(reverse("quote_detail", args=[draft.number])).content.decode()
    paper = " ".join(text_of(bytes(draft.papers.get().pdf)).split())
    (letter,) = mail.outbox
    for text in (public, own, paper, letter.body):
        assert FOR_CUSTOMERS in text
        assert "Tank 1" not in text
        assert "room for weighing" not in text


def test_the_office_reads_the_load_in_the_mail_that_asks_for_approval(draft, rep, office):
    PriceTier.objects.update(floor_pct=Decimal(40), margin_pct=Decimal(41))
    draft.lines.update(margin_pct=Decimal(20))
    submit_quote(quote=draft, acting_user=rep, why="A yard next door.")
    deliver_overdue.call()
    (letter,) = mail.outbox
    assert FOR_STAFF in letter.body


def test_a_quantity_in_the_table_costs_what_it_costs_when_asked_for(world):
    QuantityBreak.objects.create(above_gal=530, margin_points_off=Decimal(3))
    whose = {"company": world["company"], "ship_to": world["ship_to"], "today": today()}

    def asked(quantity):
        return request_for(
            world["revision"],
            catalogue=load_catalogue(today()),
            tanks=tanks_in_use(),
            package=Package.objects.get(),
            quantity=quantity,
        )

    rows = price_breaks(asked(1), **whose)
    assert [row.packages for row in rows] == [1, 2, 4]
    for row in rows:
        assert row.price_total == price_lines([asked(row.packages)], **whose).price_total


def test_several_loads_cost_each_what_one_of_them_weighs(world):
    line = DraftLine(revision=world["revision"], package=Package.objects.get(), quantity=10)
    whose = {"company": world["company"], "ship_to": world["ship_to"], "today": today()}
    priced = price_draft([line], **whose)
    found, (price,) = priced.requests[0].load, priced.price.lines
    assert (found.loads, found.volume_gal) == (3, Decimal("883.34"))
    assert {stock.code: stock.lb for stock in price.material} == {
        step.code: 3 * Decimal(repr(step.weight_lb)) for step in found.steps
    }
    assert abs(price.steps[0].amount - 3 * found.cost) <= Decimal("0.02")


def test_what_no_scale_can_keep_has_no_price_and_says_what_could_be_had(world, rep, company):
    revision = save_half_slow(rep, company, "No room", NO_ROOM)
    line = DraftLine(revision=revision, package=Package.objects.get(), quantity=2)
    with pytest.raises(BadInput) as refused:
        price_draft([line], company=company, ship_to=world["ship_to"], today=today())
    assert "Tank 1 cannot weigh 530 gal" in refused.value.message
    assert "the narrowest window that can be made" in refused.value.message


@pytest.mark.parametrize(("capacity_gal", "loads"), [(3000, 1), (300, 2)])
def test_where_a_tank_s_scales_are_too_coarse_the_next_one_is_priced_and_named(
    world, rep, company, capacity_gal, loads
):
    """530 gal at 700 lb a division; beside it a larger or smaller tank with fine scales."""
    revision = save_half_slow(rep, company)
    Tank.objects.update(scale_step_lb=700.0)
    TankFactory(name="Fine", capacity_gal=capacity_gal, smallest_gal=0, scale_step_lb=1.0)
    quote = draft_quote(
        acting_user=rep,
        company=company,
        ship_to=world["ship_to"],
        lines=[DraftLine(revision=revision, package=Package.objects.get(), quantity=2)],
        validity_days=30,
    )
    send_quote(quote=quote, acting_user=rep)
    found = quote.lines.get().price_breakdown.load
    assert (found.tank, found.loads, found.too_coarse) == ("Fine", loads, ("Tank 1",))
    assert "The scales of Tank 1 are too coarse for this blend." in load_words(found, Figures())
    assert LabelPromise.objects.get().promised.lines_pct


def test_a_tank_that_comes_first_is_named_nowhere():
    assert "too_coarse" not in load().to_json()
    assert load(too_coarse=("Tank 1",)).to_json()["too_coarse"] == ["Tank 1"]


def test_the_blend_page_says_so_too_and_draws_no_label(world, rep, signed_in):
    typed = {"N_min": "24", "N_max": "24", "K2O_min": "3", "quantity": "2"}
    htmx = {"HX-Request": "true"}
    answer = signed_in(rep).post(reverse("blend_answer"), typed, headers=htmx).content.decode()
    assert "24-0-3" in answer
    assert "No price: Tank 1 cannot weigh 530 gal" in answer
    label = (
        signed_in(rep)
        .post(reverse("blend_answer"), typed | {"part": "label"}, headers=htmx)
        .content.decode()
    )
    assert "cannot weigh" in label
    assert "GUARANTEED ANALYSIS" not in label


def test_a_reorder_that_cannot_be_weighed_is_lost_with_the_reason(world, rep, company):
    revision = save_half_slow(rep, company)
    Tank.objects.update(scale_step_lb=700.0)
    wanted = WantedLine(revision=revision, package=Package.objects.get(), quantity=2)
    found = preview(
        [wanted], company=company, ship_to=world["ship_to"], source="test", today=today()
    )
    assert found.price is None
    (lost,) = found.lost
    assert "cannot weigh 530 gal" in lost.conflict[0]


def test_the_label_is_promised_with_the_first_quote_and_kept_by_the_next(draft, rep):
    assert not LabelPromise.objects.exists()
    send_quote(quote=draft, acting_user=rep)
    promise = LabelPromise.objects.get()
    (line,) = draft.lines.all()
    assert promise.revision == line.revision
    load = line.price_breakdown.load
    for key, pct in promise.promised.lines_pct.items():
        assert float(pct) <= load.least_pct[key] + 1e-9
    # One tote in a small tank has coarser weights; it keeps the lines of the first quote.
    TankFactory(name="Small", capacity_gal=300, smallest_gal=0, scale_step_lb=5.0)
    again = DraftLine(revision=line.revision, package=line.package, quantity=1)
    priced = price_draft([again], company=draft.company, ship_to=draft.ship_to, today=today())
    later = priced.requests[0].load
    assert later.tank == "Small"
    for key, pct in promise.promised.lines_pct.items():
        assert later.least_pct[key] >= float(pct) - 1e-9
