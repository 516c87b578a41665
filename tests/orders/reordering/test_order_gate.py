"""What a customer may order at once, and what is a request first."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.urls import reverse

from blendshop.errors import BadInput, ChangedMeanwhile, IllegalMove, NotAllowed
from blendshop.outbox.models import Mail
from blendshop.roles import Role
from formulas.blends.actions import take_back_review
from formulas.blends.reviews import newest_words
from formulas.models import BaseStock, RecipeReview
from orders.models import Order, StockReservation, Tank
from orders.ordering.actions import answer_about, ask_about, cancel_own_order
from orders.ordering.own_orders import open_questions
from orders.planning.actions.planning import plan_batches
from orders.planning.due_dates import read_due_dates
from orders.planning.unplanned_lines import recipes_to_plan
from orders.quoting.actions.quotes import accept_quote
from orders.quoting.links import quote_token
from orders.quoting.mail import recipients
from orders.reordering.actions import SaidBeside, change_order, confirm_reorder
from orders.reordering.changing import changed_order
from orders.reordering.sources import reorder_of_order
from tests.factories import UserFactory, in_days, today
from tests.orders.ordering.gate_cases import agree_limits
from tests.orders.planning.plant_cases import sent_quote
from tests.orders.reordering.reorder_cases import confirm


@pytest.fixture
def crew(company):
    """Somebody of the customer who may look and not order."""
    return UserFactory(
        email="crew@brookmeadow.example",
        name="Cal Crew",
        role=Role.CUSTOMER,
        company=company,
        may_order=False,
    )


def mails_of(order):
    """Addresses by subject of the mails about an order."""
    found = {}
    for mail in Mail.objects.about("order", order.number):
        found.setdefault(mail.subject, set()).add(mail.to)
    return found


def test_a_recipe_nobody_reviewed_is_a_request_and_nothing_of_it_is_planned(
    order, customer, rep, office, formulator, plant_worker, signed_in
):
    take_back_review(acting_user=formulator, revision=order.lines.get().revision, note="Burns.")
    before = read_due_dates(today()).of_orders
    page = signed_in(customer).get(reverse("reorder_order", args=[order.number])).content.decode()
    assert "has not reviewed the recipe" in page
    assert "Ask for it" in page
    assert "Order now" not in page
    asked = confirm(order, customer)
    assert (asked.status, asked.placed_by) == ("requested", customer)
    assert "has not reviewed" in asked.held_because[0]
    # No place in the tanks, no stock, no plan.
    assert read_due_dates(today()).of_orders == before
    assert not StockReservation.objects.filter(order_line__order=asked).exists()
    assert asked.pk not in {
        part.line.order_id for recipe in recipes_to_plan() for part in recipe.parts
    }
    with pytest.raises(IllegalMove):
        plan_batches(order=asked, tank=Tank.objects.get(), acting_user=plant_worker)
    assert mails_of(asked) == {
        f"{asked.number} waits for our word": {customer.email},
        f"{order.company} asks for an order: {asked.number}": {rep.email, office.email},
    }
    detail = signed_in(customer).get(reverse("order_detail", args=[asked.number])).content.decode()
    assert "A request: somebody of ours looks at it" in detail


def test_a_reviewed_recipe_within_the_limits_is_an_order_and_the_house_is_told(
    order, customer, rep, office
):
    line = order.lines.get()
    agree_limits(order.company, most_gal=530, most_total=order.total, most_open=2 * order.total)
    made = confirm(order, customer)  # at each limit exactly
    assert (made.status, made.held_because) == ("open", [])
    assert StockReservation.objects.filter(order_line__order=made).exists()
    told = mails_of(made)
    assert told[f"{order.company} has ordered: {made.number}"] == {rep.email, office.email}
    assert line.volume_gal == 530


@pytest.mark.parametrize(
    ("limits", "words"),
    [
        ({"most_gal": 529}, "530 gal are more than the 529 gal"),
        ({"most_total": Decimal(100)}, "is more than the $100.00"),
        ({"most_open": Decimal(100)}, "all open orders come to"),
        (None, "No limits are agreed"),
    ],
)
def test_above_a_limit_it_is_a_request(order, customer, limits, words):
    if limits is None:
        order.company.order_limits.delete()
    else:
        agree_limits(order.company, **limits)
    made = confirm(order, customer)
    assert made.status == "requested"
    assert [words in reason for reason in made.held_because] == [True]


def test_a_request_is_not_yet_what_the_company_has_open(order, customer):
    agree_limits(order.company, most_gal=1, most_open=2 * order.total)
    assert confirm(order, customer, once="first").status == "requested"
    agree_limits(order.company, most_open=2 * order.total)
    assert confirm(order, customer, once="second").status == "open"
    assert confirm(order, customer, once="third").status == "requested"


def test_who_may_only_look_orders_on_no_path(order, crew, customer, rep, signed_in):
    with pytest.raises(NotAllowed, match="look and not order"):
        confirm(order, crew)
    client = signed_in(crew)
    page = client.get(reverse("reorder_order", args=[order.number])).content.decode()
    assert "Order now" not in page
    quote = sent_quote(rep, order.lines.get().revision, order.ship_to)
    assert recipients(quote) == [customer.email], "the mailed link accepts without a login"
    with pytest.raises(NotAllowed):
        accept_quote(quote=quote, acting_user=crew, name="Cal")
    own = client.get(reverse("quote_detail", args=[quote.number])).content.decode()
    assert 'value="accept"' not in own
    answer = {"decision": "accept", "name": "Cal", "agreed": "on"}
    link = reverse("quote_public", args=[quote_token(quote)])
    assert client.post(link, answer).status_code == 403
    assert Order.objects.count() == 1
    for act in (cancel_own_order, lambda **given: ask_about(text="More?", **given)):
        with pytest.raises(NotAllowed):
            act(order=order, acting_user=crew)


def test_an_accepted_quote_is_an_order_whatever_the_limits(order, customer, rep, office):
    agree_limits(order.company, most_gal=1, most_total=Decimal(1), most_open=Decimal(1))
    quote = sent_quote(rep, order.lines.get().revision, order.ship_to)
    made = accept_quote(quote=quote, acting_user=customer, name="Casey")
    assert made.status == "open"
    told = Mail.objects.about("quote", quote.number).filter(subject__contains="is accepted")
    assert {mail.to for mail in told} == {rep.email, office.email}


def test_solved_again_with_a_new_stock_it_is_a_request(order, customer, spare_slow_stock):
    BaseStock.objects.filter(code="TRZ").update(short=True)
    made = confirm(order, customer)
    assert made.status == "requested"
    assert "methylene-urea solution, to be reviewed" in made.held_because[0]
    assert not newest_words([made.lines.get().revision])


def test_solved_again_without_a_new_stock_or_caution_it_is_as_reviewed_as_before(
    order, customer, spare_slow_stock
):
    """The assay of a stock fell, so the shares change and nothing comes in."""
    stock = BaseStock.objects.get(code="TRZ")
    BaseStock.objects.filter(code="MUS").update(short=True)
    stock.analysis_figures.filter(key="N.slow").update(pct=19.5)
    reorder = reorder_of_order(order)
    assert reorder.lines[0].wish is not None
    made = confirm(order, customer, reorder=reorder)
    assert made.status == "open"
    (word,) = newest_words([made.lines.get().revision]).values()
    assert word.stands
    assert word.carried_from == order.lines.get().revision


def test_number_day_and_note_go_with_the_order(order, customer, signed_in):
    day = reorder_of_order(order).due_on + timedelta(days=9)
    url = reverse("reorder_order", args=[order.number])
    page = signed_in(customer).get(url)
    seen = {"seen": page.context["reorder"].digest, "once": "one"}
    said = {"reference": "PO 4711", "wanted_on": day.isoformat(), "note": "Call before you come."}
    late = signed_in(customer).post(url, {**seen, **said, "wanted_on": in_days(-1).isoformat()})
    assert late.status_code == 400
    assert "Call before you come." in late.content.decode(), "what was typed is still there"
    answer = signed_in(customer).post(url, {**seen, **said})
    made = Order.objects.exclude(pk=order.pk).get()
    assert (made.customer_reference, made.wanted_on, made.note, made.due_on) == (
        "PO 4711", day, "Call before you come.", day,
    )  # fmt: skip
    shown = signed_in(customer).get(answer.url).content.decode()
    letters = " ".join(Mail.objects.about("order", made.number).values_list("text", flat=True))
    for text in ("PO 4711", "Call before you come."):
        assert text in shown
        assert letters.count(text) >= 1


def test_other_quantities_while_nothing_is_planned(order, customer, plant_worker, signed_in):
    agree_limits(order.company, most_gal=800)
    made = confirm(order, customer)

    def change(quantity):
        offer = changed_order(made, [quantity])
        return change_order(
            order=made, quantities=[quantity], acting_user=customer, seen_digest=offer.digest
        )

    less = change(1)
    assert (less.status, less.due_on) == ("open", made.due_on)
    line = less.lines.get()
    assert (line.quantity, line.volume_gal, less.total) == (1, 265, line.line_total + line.deposit)
    reserved = sum(row.needed_lb for row in StockReservation.objects.filter(order_line=line))
    assert float(reserved) == pytest.approx(line.mass_lb, abs=0.1)
    more = change(4)
    assert more.status == "requested"
    assert "more than the 800 gal" in more.held_because[0]
    assert not StockReservation.objects.filter(order_line=line).exists()
    with pytest.raises(ChangedMeanwhile):
        change_order(order=made, quantities=[3], acting_user=customer, seen_digest="old")
    url = reverse("order_change", args=[made.number])
    page = signed_in(customer).get(url, {"quantity_1": 2}).context
    sent = {"quantity_1": 2, "seen": page["reorder"].digest}
    assert signed_in(customer).post(url, sent).status_code == 302
    made.refresh_from_db()
    assert (made.status, made.lines.get().quantity) == ("open", 2)
    plan_batches(order=made, tank=Tank.objects.get(), acting_user=plant_worker)
    with pytest.raises(IllegalMove, match="planned already"):
        change(1)


def test_cancelled_while_nothing_is_planned_and_asked_about_afterwards(
    order, customer, rep, office, plant_worker, signed_in
):
    made = confirm(order, customer)
    client = signed_in(customer)
    client.post(reverse("order_cancel_own", args=[made.number]), {"why": "Rain."})
    made.refresh_from_db()
    assert made.status == "cancelled"
    told = mails_of(made)
    assert told[f"{order.company} has cancelled {made.number}"] == {rep.email, office.email}
    plan_batches(order=order, tank=Tank.objects.get(), acting_user=plant_worker)
    order.refresh_from_db()
    with pytest.raises(IllegalMove, match="planned already"):
        cancel_own_order(order=order, acting_user=customer)
    client.post(reverse("order_ask", args=[order.number]), {"why": "Two weeks later, please?"})
    assert mails_of(order)[f"{order.company} asks about {order.number}"] == {
        rep.email,
        office.email,
    }
    assert [event.order for event in open_questions()] == [order]
    with pytest.raises(BadInput):
        answer_about(order=order, acting_user=rep, text=" ")
    signed_in(rep).post(reverse("order_answer", args=[order.number]), {"why": "It is moved."})
    assert not open_questions()
    page = client.get(reverse("order_detail", args=[order.number])).content.decode()
    assert "Two weeks later, please?" in page
    assert "It is moved." in page


def test_what_is_said_beside_does_not_change_what_was_shown(order, customer):
    reorder = reorder_of_order(order)
    made = confirm_reorder(
        reorder=reorder,
        acting_user=customer,
        seen_digest=reorder.digest,
        once="one",
        terms=SaidBeside(reference="PO 1", wanted_on=today()),
    )
    assert made.due_on == reorder.due_on, "earlier than can be made is not promised"
    assert RecipeReview.objects.count() == 1
