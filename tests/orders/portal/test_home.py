"""A customer's home: what waits, how far orders are, what is had again, papers of its own lots."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone

from orders.models import Batch, Order, OrderEvent, PackageSerial, Quote
from orders.ordering.timeline import timeline
from orders.papers.actions import issue_packing_list
from orders.portal.home_page import again_offers
from orders.reordering.sources import reorder_of_order
from orders.safety_sheets.actions import put_in_sheet
from tests.factories import ShipToFactory
from tests.orders.planning.plant_cases import placed_order, sent_quote
from tests.orders.production.charging_cases import new_key

HOME = "/home/"


@pytest.fixture
def quote(revision, rep, company) -> Quote:
    return sent_quote(rep, revision, ShipToFactory(company=company))


def test_a_customer_begins_at_home_and_accepts_there_in_two_steps(quote, customer, signed_in):
    client = signed_in(customer)
    assert client.get("/")["Location"] == HOME
    page = client.get(HOME).content.decode()
    assert quote.number in page
    decide = reverse("quote_decide", args=[quote.number])
    assert f'action="{decide}"' in page
    asked = client.post(decide, {"decision": "accept", "name": customer.name}).content.decode()
    assert "Yes, accept" in asked
    assert not Order.objects.exists()
    client.post(decide, {"decision": "accept", "name": customer.name, "agreed": "on"})
    order = Order.objects.get()
    page = client.get(HOME).content.decode()
    assert order.number in page
    assert decide not in page


def test_an_expired_quote_waits_no_more(quote, customer, signed_in):
    Quote.objects.filter(pk=quote.pk).update(valid_until=timezone.localdate() - timedelta(days=1))
    assert quote.number not in signed_in(customer).get(HOME).content.decode()


def test_the_steps_of_an_order_have_the_days_of_its_events(batch, order, customer, signed_in):
    """Home and order page show the same steps: planned, next made, due at the last."""
    order.refresh_from_db()
    today = timezone.localdate()
    steps = {step.name: step for step in timeline(order, order.events.all())}
    assert [step.is_done for step in steps.values()] == [True, True, True, False, False]
    assert steps["Planned"].on == today
    assert steps["Made"].is_next
    assert steps["Shipped"].by == order.due_on
    client = signed_in(customer)
    of_home = _steps(client.get(HOME).content.decode())
    assert of_home == _steps(
        client.get(reverse("order_detail", args=[order.number])).content.decode()
    )
    assert f"{order.due_on:%b} {order.due_on.day}" in of_home


def _steps(page: str) -> str:
    return page.split('<ol class="order-steps">', 1)[1].split("</ol>", 1)[0]


def test_a_plan_that_was_given_up_is_an_open_step_again(order):
    for was, now in (("open", "planned"), ("planned", "open")):
        OrderEvent.objects.create(order=order, who="Pat", from_status=was, to_status=now)
    planned = timeline(order, order.events.all())[2]
    assert (planned.is_done, planned.on, planned.is_next) == (False, None, True)


def test_last_years_order_of_this_season_comes_first_and_the_same_load_once(
    revision, rep, company, customer
):
    place = ShipToFactory(company=company)
    old = placed_order(rep, company, revision=revision, quantity=3, ship_to=place)
    new = placed_order(rep, company, revision=revision, quantity=2, ship_to=place)
    placed_order(rep, company, revision=revision, quantity=2, ship_to=place)
    year_ago = timezone.now() - timedelta(days=360)
    Order.objects.filter(pk=old.pk).update(created_at=year_ago)
    offers = again_offers(customer, timezone.localdate())
    assert [(offer.order.pk, offer.of_last_year) for offer in offers] == [
        (old.pk, True),
        (new.pk + 1, False),
    ]


def test_who_may_only_look_finds_nothing_to_order_or_accept(quote, order, customer, signed_in):
    customer.may_order = False
    customer.save()
    page = signed_in(customer).get(HOME).content.decode()
    assert reverse("quote_detail", args=[quote.number]) in page
    assert reverse("quote_decide", args=[quote.number]) not in page
    assert reverse("reorder_order", args=[order.number]) not in page


LACKS_SDS = "No safety data sheet (SDS) of this product is here yet: ask the plant for it"


def test_papers_stand_by_lot_and_another_company_finds_none(
    batch, order, revision, formulator, plant_worker, customer, stranger, signed_in
):
    Batch.objects.filter(pk=batch.pk).update(status="released")
    PackageSerial.objects.create(
        part=batch.parts.get(),
        serial=f"{batch.number}-01",
        net_lb=Decimal("2749.5"),
        key=new_key(),
        by=plant_worker,
        who=str(plant_worker),
    )
    paper = issue_packing_list(order=order, acting_user=plant_worker)
    link = reverse("paper", args=[paper.pk])
    for address in (HOME, "/home/papers/", f"/home/papers/?q={batch.number}"):
        page = signed_in(customer).get(address).content.decode()
        assert batch.number in page
        assert link in page
        other = signed_in(stranger).get(address).content.decode()
        assert order.number not in other
        assert link not in other
    assert link not in signed_in(customer).get("/home/papers/?q=nothing").content.decode()
    # Whoever handles the product has its safety data sheet, or is told to ask for it: that of a
    # stock in it does not stand for it.
    address = reverse("part_page", args=[batch.number, batch.parts.get().position])
    day, sheet = timezone.localdate(), None
    for of in (None, revision.lines.first().stock, revision.blend):
        if of is not None:
            sheet = put_in_sheet(acting_user=formulator, of=of, pdf=b"%PDF-1.7", revised_on=day)
        for path in (HOME, "/home/papers/", address):
            page = signed_in(customer).get(path).content.decode()
            assert (LACKS_SDS in page) is (of != revision.blend), (path, of)
    assert sheet is not None
    for path in (HOME, "/home/papers/", address):
        page = signed_in(customer).get(path).content.decode()
        assert reverse("safety_sheet", args=[sheet.pk]) in page


def test_home_names_no_stock_of_a_recipe_that_is_not_to_be_read(
    batch, order, revision, customer, signed_in
):
    page = signed_in(customer).get(HOME).content.decode()
    assert order.number in page
    for line in revision.lines.select_related("stock"):
        assert line.stock.name not in page


def test_an_order_to_be_had_again_says_what_it_costs_today_as_its_page_does(
    order, customer, stranger, signed_in
):
    client, address = signed_in(customer), reverse("reorder_price", args=[order.number])
    assert f'hx-get="{address}"' in client.get(HOME).content.decode()
    total = f"${reorder_of_order(order).price.total:,.2f}"
    assert f"<strong>{total} today</strong>" in client.get(address).content.decode()
    page = client.get(reverse("reorder_order", args=[order.number])).content.decode()
    assert f"Total {total}" in page
    assert signed_in(stranger).get(address).status_code == 404


def test_what_cannot_be_had_again_has_no_price_at_home(order, customer, signed_in):
    order.ship_to.active = False
    order.ship_to.save()
    card = signed_in(customer).get(reverse("reorder_price", args=[order.number]))
    assert "look what can be" in card.content.decode()
    assert "$" not in card.content.decode()
