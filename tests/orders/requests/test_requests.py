"""What waits for a rep or a formulator: looked at, released, declined."""

from decimal import Decimal

import pytest
from django.db import transaction
from django.urls import reverse

from blendshop.errors import BadInput, IllegalMove, NotAllowed
from blendshop.outbox.models import Mail
from formulas.blends.reviews import is_reviewed
from orders.models import Order, PlantProfile, StockReservation
from orders.ordering.actions import place_order
from orders.planning.unplanned_lines import recipes_to_plan
from orders.records.moves import note
from orders.requests.actions import decline_request, release_request
from tests.factories import today
from tests.orders.ordering.gate_cases import agree_limits, review
from tests.orders.planning.plant_cases import placed_order


@pytest.fixture
def order(revision, rep, company):
    """The order of everywhere, of a recipe nobody has reviewed."""
    return placed_order(rep, company, quantity=2, revision=revision, is_reviewed=False)


@pytest.fixture
def request_(order, customer, company):
    """Two totes asked for, of a recipe nobody has reviewed; the ``order`` itself is cancelled."""
    line = order.lines.get()
    line.pk = None
    Order.objects.filter(pk=order.pk).update(status="cancelled")
    agree_limits(company)
    return place_order(
        company=company,
        ship_to=order.ship_to,
        lines=[line],
        total=order.total,
        deposit_total=order.deposit_total,
        acting_user=customer,
        who=str(customer),
        why="Test.",
        held_because=["Nobody has looked at it."],
    )


def state(request_):
    return Order.objects.get(pk=request_.pk).status


def test_a_formulator_reviews_and_releases_in_one_press(request_, formulator, customer, signed_in):
    client = signed_in(formulator)
    page = client.get(reverse("requests_waiting")).content.decode()
    revision = request_.lines.get().revision
    for notice in revision.solved.alerts:
        assert notice.message in page
    for words in (request_.number, "Recipe", "urea-triazone solution", "Reviewed: release"):
        assert words in page
    sent = {"decision": "release", "reviewing": str(revision.pk), "why": "Fine at 0.7 lb."}
    assert client.post(reverse("request_decide", args=[request_.number]), sent).status_code == 302
    assert state(request_) == "open"
    word = revision.reviews.get()
    assert (word.by, word.note, word.stands) == (formulator, "Fine at 0.7 lb.", True)
    assert StockReservation.objects.filter(order_line__order=request_).exists()
    assert request_.pk in {
        part.line.order_id for recipe in recipes_to_plan() for part in recipe.parts
    }
    told = Mail.objects.about("order", request_.number).filter(subject__contains="is confirmed")
    assert [mail.to for mail in told] == [customer.email]


def test_a_rep_releases_only_what_a_formulator_has_reviewed(request_, rep, customer):
    revision = request_.lines.get().revision
    with pytest.raises(IllegalMove, match="waits for a formulator's review"):
        release_request(order=request_, acting_user=rep, reviewing=[revision.pk])
    assert not is_reviewed(revision)
    review(revision)
    release_request(order=request_, acting_user=rep)
    assert state(request_) == "open"
    for by in (customer, rep):
        with pytest.raises((IllegalMove, NotAllowed)):
            release_request(order=request_, acting_user=by)


def test_what_its_customer_changed_after_the_look_is_not_released(request_, rep, signed_in):
    review(request_.lines.get().revision)
    page = signed_in(rep).get(reverse("requests_waiting"))
    (seen,) = page.context["page"].object_list
    with transaction.atomic():
        note(request_, acting_user=rep, why="Quantities [2] changed to [4].")
    sent = {"decision": "release", "seen_event": seen.seen_event}
    answer = signed_in(rep).post(reverse("request_decide", args=[request_.number]), sent)
    assert answer.status_code == 409
    assert state(request_) == "requested"


def test_above_a_limit_the_rep_releases_and_the_formulator_does_not(
    request_, rep, formulator, signed_in
):
    review(request_.lines.get().revision)
    agree_limits(request_.company, most_total=Decimal(10))
    with pytest.raises(NotAllowed, match="The rep or the office releases it"):
        release_request(order=request_, acting_user=formulator)
    page = signed_in(formulator).get(reverse("requests_waiting")).content.decode()
    assert 'value="release"' not in page
    release_request(order=request_, acting_user=rep, why="Good customer.")
    why = request_.events.order_by("-pk").first().why
    assert "more than the $10.00" in why
    assert why.endswith("Good customer.")


def test_a_request_that_waited_is_dated_anew(request_, rep, company):
    PlantProfile.objects.update(lead_time_working_days=1)
    shown = request_.due_on
    revision = request_.lines.get().revision
    review(revision)
    # Forty totes more are ten loads: five days of the only tank.
    placed_order(rep, company, quantity=80, revision=revision, ship_to=request_.ship_to)
    release_request(order=request_, acting_user=rep)
    request_.refresh_from_db()
    assert request_.due_on > max(shown, today())


def test_declined_the_customer_reads_why(request_, rep, customer, signed_in):
    with pytest.raises(BadInput):
        decline_request(order=request_, acting_user=rep, why=" ")
    url = reverse("request_decide", args=[request_.number])
    signed_in(rep).post(url, {"decision": "decline", "why": "It would burn at your rate."})
    assert state(request_) == "declined"
    told = Mail.objects.about("order", request_.number).get(subject__contains="cannot be taken")
    page = signed_in(customer).get(reverse("order_detail", args=[request_.number]))
    for text in (told.text, page.content.decode()):
        assert "It would burn at your rate." in text


def test_what_waits_is_told_where_those_who_decide_begin(
    request_, rep, formulator, plant_worker, signed_in
):
    for person, name in ((rep, "blend_page"), (formulator, "blend_page"), (rep, "quote_list")):
        assert "Waiting: 1 request." in signed_in(person).get(reverse(name)).content.decode()
    assert (
        "Look at what waits" not in signed_in(plant_worker).get(reverse("the_day")).content.decode()
    )


def test_a_quote_accepted_without_a_review_is_listed_for_the_formulator(
    order, batch, formulator, signed_in
):
    client = signed_in(formulator)
    begins = client.get(reverse("blend_page")).content.decode()
    assert "Waiting: 1 recipe on order not reviewed." in begins
    page = client.get(reverse("requests_waiting")).content.decode()
    assert "Ordered by quote, not reviewed" in page
    assert order.number in page
    for caution in order.lines.get().revision.solved.alerts:
        assert caution.message in page
    of_batch = reverse("batch_detail", args=[batch.number])
    assert "no formulator has reviewed" in client.get(of_batch).content.decode()
    revision = order.lines.get().revision
    sent = {"do": "review", "revision": revision.number, "from_queue": "on"}
    client.post(reverse("blend_review", args=[revision.blend_id]), sent)
    page = client.get(reverse("requests_waiting")).content.decode()
    assert order.number not in page
    assert "Nothing waits." in page
    assert "no formulator has reviewed" not in client.get(of_batch).content.decode()
