"""Pages of orders and batches: who sees what, by due date, without a price for the plant."""

import re
from datetime import timedelta

import pytest
from django.urls import reverse

from orders.inventory.actions.lot_quality import hold_lot
from orders.labels.actions import issue_label_draft
from orders.models import Batch, Order, Paper, Tank
from orders.ordering.board import by_due_date
from orders.planning.actions.planning import plan_batches
from orders.production.actions.batches import release_batch
from tests.factories import CompanyFactory, in_days, today
from tests.orders.labels.approvals import approve_labels
from tests.orders.planning.plant_cases import (
    accepted_order,
    make_shop,
    placed_order,
    save_half_slow,
)
from tests.orders.production.charging_cases import (
    charge_all,
    charged_and_made,
    drained,
    lots_of,
    read_density,
    received,
)

PRICE_WORDS = re.compile(r"\$|price|cost\b|costs\b|margin|per gal\b|deposit|total:", re.IGNORECASE)


@pytest.fixture
def accepted(shop, rep, company):
    """Nine totes, three loads, from an accepted quote."""
    return accepted_order(rep, company, quantity=9)


@pytest.fixture
def batches(accepted, plant_worker):
    return plan_batches(order=accepted, tank=Tank.objects.get(), acting_user=plant_worker)


def body(response, status=200):
    assert response.status_code == status
    html = response.content.decode()
    assert html.count("<h1") == 1
    assert " style=" not in html
    assert not re.search(r"<script(?![^>]* src=)", html)
    ids = re.findall(r'\sid="([^"]+)"', html)
    assert len(ids) == len(set(ids))
    for field in re.findall(r"<(?:input|select|textarea)[^>]*>", html):
        if 'type="hidden"' not in field:
            name = re.search(r'id="([^"]+)"', field)
            assert name, field
            assert f'for="{name[1]}"' in html, field
    return html


def main(html):
    return html.split("<main", 1)[1].split("</main>", 1)[0]


def test_orders_fall_into_overdue_within_a_week_and_later():
    def due(days, status="open"):
        return Order(
            number=f"O{days}{status}", status=status, due_on=today() + timedelta(days=days)
        )

    orders = [due(-1), due(0), due(7), due(8), due(-3, "shipped")]
    groups = {g.key: [o.number for o in g.orders] for g in by_due_date(orders, today())}
    assert groups == {
        "overdue": ["O-1open"],
        "near": ["O0open", "O7open"],
        "later": ["O8open"],
        "closed": ["O-3shipped"],
    }


def test_the_board_shows_open_orders_and_finds_by_number_customer_and_blend(
    accepted, rep, plant_worker, signed_in
):
    other = accepted_order(rep, CompanyFactory(name="Hillside Turf"), quantity=1)
    Order.objects.filter(pk=other.pk).update(status="shipped")
    client = signed_in(plant_worker)

    def board(**query):
        return main(body(client.get(reverse("order_board"), query)))

    assert accepted.number in board()
    assert other.number not in board()
    assert other.number in board(status="shipped")
    assert other.number in board(status="all", q="hillside")
    assert accepted.number not in board(status="all", q="hillside")
    assert accepted.number in board(q="half slow")
    assert accepted.number in board(q=accepted.number[-4:])
    assert other.number in board(status="all", company=other.company_id)
    assert accepted.number not in board(status="all", company=other.company_id)


def test_plant_pages_speak_of_no_money(accepted, batches, plant_worker, signed_in):
    client = signed_in(plant_worker)
    for url in (
        reverse("order_board"),
        reverse("order_detail", args=[accepted.number]),
        reverse("batch_list"),
        reverse("batch_detail", args=[batches[0].number]),
    ):
        html = body(client.get(url))
        assert accepted.number in html
        assert not PRICE_WORDS.search(html), PRICE_WORDS.search(html)


def test_a_customer_sees_its_own_orders_with_prices_and_no_batches(
    accepted, batches, customer, signed_in
):
    client = signed_in(customer)
    listed = main(body(client.get(reverse("order_board"))))
    assert f"${accepted.total:,.2f}" in listed
    assert "Customer" not in listed, "there is only its own company to choose from"
    assert reverse("reorder_order", args=[accepted.number]) in listed
    detail = main(body(client.get(reverse("order_detail", args=[accepted.number]))))
    assert f"${accepted.total:,.2f}" in detail
    assert batches[0].number not in detail
    assert "Robin" not in detail, "names of the plant's people are for staff"


def test_a_customer_reads_the_label_draft_of_its_order_but_not_the_ticket(
    accepted, batches, customer, stranger, plant_worker, signed_in
):
    label = issue_label_draft(part=batches[0].parts.get(), acting_user=plant_worker)
    signed_in(plant_worker).get(reverse("batch_ticket_pdf", args=[batches[0].number]))
    ticket = Paper.objects.get(kind="batch_ticket")
    client = signed_in(customer)
    detail = main(body(client.get(reverse("order_detail", args=[accepted.number]))))
    assert reverse("paper", args=[label.pk]) in detail
    answer = client.get(reverse("paper", args=[label.pk]))
    assert answer.content == bytes(label.pdf)
    assert client.get(reverse("paper", args=[ticket.pk])).status_code == 404
    assert signed_in(stranger).get(reverse("paper", args=[label.pk])).status_code == 404


def test_a_stranger_finds_nothing_of_another_company(accepted, batches, stranger, signed_in):
    client = signed_in(stranger)
    assert accepted.number not in client.get(reverse("order_board")).content.decode()
    assert client.get(reverse("order_detail", args=[accepted.number])).status_code == 404
    assert client.get(reverse("reorder_order", args=[accepted.number])).status_code == 404
    quote_paper = accepted.quote.papers.get()
    assert client.get(reverse("paper", args=[quote_paper.pk])).status_code == 404


def test_the_plant_does_not_read_quotes(accepted, plant_worker, signed_in):
    paper = accepted.quote.papers.get()
    assert signed_in(plant_worker).get(reverse("paper", args=[paper.pk])).status_code == 404


ROLES = ("customer", "rep", "plant_worker", "formulator", "office")


@pytest.mark.parametrize("role", ROLES)
def test_each_route_is_open_to_its_roles_only(request, accepted, batches, signed_in, role):
    client = signed_in(request.getfixturevalue(role))
    number, batch = [accepted.number], [batches[0].number]
    gets = {
        ("order_board", ()): ROLES,
        ("order_detail", tuple(number)): ROLES,
        ("reorder_order", tuple(number)): ("customer", "rep", "office"),
        ("batch_list", ()): ROLES[1:],
        ("batch_detail", tuple(batch)): ROLES[1:],
        ("batch_ticket_pdf", tuple(batch)): ROLES[1:],
        ("label_letter_pdf", (*batch, 1)): ROLES[1:],
    }
    for (name, args), allowed in gets.items():
        expected = 200 if role in allowed else 403
        assert client.get(reverse(name, args=args)).status_code == expected, name
        assert client.delete(reverse(name, args=args)).status_code in (403, 405), name
    posts = {
        "order_plan": (number, ("plant_worker", "formulator", "office")),
        "order_ship": (number, ("plant_worker", "office")),
        "order_cancel": (number, ("rep", "office")),
        "order_due": (number, ("rep", "office", "plant_worker")),
        "batch_made": (batch, ("plant_worker", "formulator")),
        # A made batch without a reading is refused to the plant, so one that is only planned.
        "batch_release": ([batches[1].number], ("plant_worker", "formulator")),
        "batch_cancel": (batch, ("plant_worker", "formulator")),
    }
    for name, (args, allowed) in posts.items():
        status = client.post(reverse(name, args=args)).status_code
        assert (status != 403) == (role in allowed), name
        get = client.get(reverse(name, args=args)).status_code
        assert get == (405 if role in allowed else 403), name


def test_the_plant_walks_an_order_from_the_board_to_shipped(accepted, plant_worker, signed_in):
    client = signed_in(plant_worker)
    detail = reverse("order_detail", args=[accepted.number])
    plan = reverse("order_plan", args=[accepted.number])
    assert plan in body(client.get(detail))
    answer = client.post(plan, {"tank": Tank.objects.get().pk}, follow=True)
    html = body(answer)
    assert plan not in html, "nothing is left to plan"
    for batch in Batch.objects.all():
        page = reverse("batch_detail", args=[batch.number])
        assert page in html
        assert reverse("batch_paper", args=[batch.number]) in body(client.get(page))
        charge_all(batch, lots_of(batch, plant_worker), plant_worker)
        made = reverse("batch_made", args=[batch.number])
        weighed = client.get(reverse("batch_charge", args=[batch.number]))
        assert made in weighed.content.decode()
        assert client.post(made, follow=True).status_code == 200
        assert "No density has been read" in body(client.get(page))
        batch.refresh_from_db()
        read_density(batch, plant_worker)
        release = reverse("batch_release", args=[batch.number])
        assert release in body(client.get(page))
        assert client.post(release, follow=True).status_code == 200
        drained(batch.tank, plant_worker)
    ship = reverse("order_ship", args=[accepted.number])
    assert ship not in body(client.get(detail)), "no label is approved"
    approve_labels(accepted)
    assert ship in body(client.get(detail))
    assert "not filled and numbered yet" in body(client.get(detail))
    refused = client.post(ship)
    assert refused.status_code == 400
    assert "Say why it leaves all the same" in refused.content.decode()
    shipped = client.post(ship, {"why": "filled from the tank by hose"}, follow=True)
    assert "is shipped" in body(shipped)
    assert "filled from the tank by hose" in accepted.events.last().why
    accepted.refresh_from_db()
    assert accepted.status == "shipped"
    again = client.post(ship)
    assert again.status_code == 409
    assert "already shipped" in again.content.decode()


def test_the_due_date_is_moved_on_the_page(accepted, rep, signed_in):
    url = reverse("order_due", args=[accepted.number])
    client = signed_in(rep)
    html = body(client.post(url, {"due_on": in_days(40).isoformat()}, follow=True))
    assert f"is due on {in_days(40):%A, %B} {in_days(40).day}." in html
    refused = client.post(url, {"due_on": "next week"})
    assert refused.status_code == 400
    assert "due_on" in refused.content.decode()


def test_the_batch_page_shows_the_weights_in_charging_order(batches, plant_worker, signed_in):
    batch = batches[0]
    html = main(body(signed_in(plant_worker).get(reverse("batch_detail", args=[batch.number]))))
    charge = html.split('id="charge"', 1)[1]
    places = [charge.index(f"{step.weight_lb:,.0f}") for step in batch.load_plan.steps]
    assert places == sorted(places)
    assert reverse("batch_ticket_pdf", args=[batch.number]) in html
    assert reverse("label_detail", args=[batch.number, 1]) in html


def test_a_paper_is_issued_once_and_then_served_byte_for_byte(batches, plant_worker, signed_in):
    client = signed_in(plant_worker)
    url = reverse("batch_ticket_pdf", args=[batches[0].number])
    first, second = client.get(url), client.get(url)
    assert first["Content-Type"] == "application/pdf"
    assert first["Content-Disposition"].startswith("inline")
    assert first.content[:5] == b"%PDF-"
    assert first.content == second.content
    assert Paper.objects.filter(kind="batch_ticket").count() == 1


def test_pages_of_unknown_numbers_are_not_found(accepted, plant_worker, signed_in):
    client = signed_in(plant_worker)
    for name in ("order_detail", "batch_detail", "batch_ticket_pdf"):
        assert client.get(reverse(name, args=["X-2026-0001"])).status_code == 404


def test_lists_cost_the_same_number_of_queries_for_three_and_for_twelve_rows(
    rep, company, plant_worker, customer, signed_in, django_assert_max_num_queries
):
    make_shop()
    revision = save_half_slow(rep, company)
    hold_lot(lot=received("UAN", plant_worker, 10_000), why="crystals", acting_user=plant_worker)
    counts = {}
    for rows in (3, 12):
        while Order.objects.count() < rows:
            order = placed_order(rep, company, quantity=1, revision=revision)
            (batch,) = plan_batches(order=order, tank=Tank.objects.get(), acting_user=plant_worker)
            charged_and_made(batch, plant_worker)
            read_density(batch, plant_worker)
            release_batch(batch=batch, acting_user=plant_worker)
            drained(batch.tank, plant_worker)
        for user, name in (
            (plant_worker, "order_board"),
            (customer, "order_board"),
            (plant_worker, "batch_list"),
        ):
            client = signed_in(user)
            with django_assert_max_num_queries(38) as queries:
                client.get(reverse(name), {"status": "all"})
            counts.setdefault((user, name), []).append(len(queries))
    for (_, name), (few, many) in counts.items():
        assert few == many, (name, few, many)


def test_an_order_that_cannot_be_made_by_its_date_is_marked_for_staff_alone(
    accepted, customer, plant_worker, signed_in
):
    detail = reverse("order_detail", args=[accepted.number])
    pages = (reverse("order_board"), detail)
    assert not any("Cannot be made" in body(signed_in(plant_worker).get(page)) for page in pages)
    Order.objects.update(due_on=today())
    for page in pages:
        assert "Cannot be made by then: earliest " in body(signed_in(plant_worker).get(page))
        assert "Cannot be made" not in body(signed_in(customer).get(page))
