"""What a customer asks and sets for itself: questions, addresses, mails."""

import pytest
from django.urls import reverse

from blendshop.errors import IllegalMove, NotAllowed
from blendshop.outbox.models import Mail
from orders.customers.actions import change_own_ship_to
from orders.models import CustomerQuestion, ShipTo
from orders.ordering.mail import mail_order
from orders.questions.actions import answer
from orders.quoting.mail import recipients
from tests.factories import FreightZoneFactory, ShipToFactory, today
from tests.orders.planning.plant_cases import sent_quote

PLACE = {
    "label": "South barn",
    "street": "5 Fescue Road",
    "city": "Amberly",
    "state": "MD",
    "county": "",
    "postal_code": "00000",
}


def test_a_question_lands_with_the_house_and_the_answer_with_who_asked(
    customer, stranger, rep, office, signed_in
):
    client = signed_in(customer)
    assert client.post("/home/questions/", {"text": "  "}).status_code == 400
    client.post("/home/questions/", {"text": "Do you take totes back?"})
    question = CustomerQuestion.objects.get()
    asked = Mail.objects.filter(text__contains="Do you take totes back?")
    assert set(asked.values_list("to", "reply_to")) == {
        (rep.email, customer.email),
        (office.email, customer.email),
    }
    of_rep, home = signed_in(rep), reverse("customer_home")
    page, queue = (
        reverse("customer_detail", args=[customer.company_id]),
        reverse("requests_waiting"),
    )
    for each in (page, queue):
        assert "Do you take totes back?" in of_rep.get(each).content.decode()
    assert "Waiting: 1 question." in of_rep.get(reverse("quote_list")).content.decode()
    client.force_login(customer)
    assert "Not answered yet." in client.get(home).content.decode()
    url = reverse("question_answer", args=[question.pk])
    assert client.post(url, {"answer": "No"}).status_code == 403
    sent = {"answer": "Yes, rinsed.", "from_queue": "on"}
    of_rep = signed_in(rep)
    assert of_rep.post(url, sent).url == queue
    assert "Nothing waits." in of_rep.get(queue).content.decode()
    told = Mail.objects.get(text__contains="Yes, rinsed.")
    assert (told.to, told.reply_to) == (customer.email, rep.email)
    client = signed_in(customer)
    for each in ("/home/questions/", home):
        html = client.get(each).content.decode()
        assert "Yes, rinsed." in html
        assert f"{rep.name}, {today():%b} {today().day}, {today().year}" in html
    assert "totes" not in signed_in(stranger).get("/home/questions/").content.decode()
    with pytest.raises(IllegalMove):
        answer(question=question, acting_user=office, text="Twice")


def test_an_address_a_customer_adds_waits_for_the_plant(customer, office, rep, signed_in):
    FreightZoneFactory()
    far = FreightZoneFactory(name="Far")
    client = signed_in(customer)
    client.post("/home/addresses/new/", PLACE)
    place = ShipTo.objects.get(company=customer.company)
    assert (place.label, place.active) == ("South barn", False)
    assert "Set its freight zone" in Mail.objects.get(to=office.email).text
    assert "we set the freight first" in client.get("/home/addresses/").content.decode()
    again = client.post("/home/addresses/new/", PLACE)
    assert again.status_code == 400
    assert "already has a ship-to of this name" in again.content.decode()
    client.post("/home/addresses/new/", {**PLACE, "label": "Isle", "state": "HI"})
    of_rep, queue = signed_in(rep), reverse("requests_waiting")
    html = of_rep.get(queue).content.decode()
    assert "Waiting: 2 new addresses." in html
    assert "No lawn rules of HI are on file" in html
    assert "No lawn rules of MD" not in html
    assert " selected>" not in html  # no place there has a zone yet
    known = ShipToFactory(company=customer.company, state="MD", zone=far)
    html = of_rep.get(queue).content.decode()
    assert html.count(f'<option value="{far.pk}" selected>') == 1
    known.delete()
    url = reverse("place_decide", args=[place.pk])
    assert of_rep.post(url, {"decision": "confirm", "zone": ""}).status_code == 400
    of_rep.post(url, {"decision": "confirm", "zone": far.pk})
    place.refresh_from_db()
    assert (place.active, place.zone, place.waits_since) == (True, far, None)
    assert of_rep.post(url, {"decision": "decline", "why": "Late."}).status_code == 409
    isle = ShipTo.objects.get(label="Isle")
    decline = reverse("place_decide", args=[isle.pk])
    assert of_rep.post(decline, {"decision": "decline", "why": " "}).status_code == 400
    of_rep.post(decline, {"decision": "decline", "why": "No truck swims."})
    assert "Nothing waits." in of_rep.get(queue).content.decode()
    told = Mail.objects.filter(to=customer.email).order_by("pk").values_list("subject", flat=True)
    assert list(told) == [
        "South barn: you can order to it now",
        "Isle: we cannot deliver there",
    ]
    html = signed_in(customer).get("/home/addresses/").content.decode()
    assert "we set the freight first" not in html
    assert html.count("We do not deliver to it.") == 1


def test_a_changed_address_is_the_orders_and_not_what_is_planned(
    batch, order, customer, stranger, signed_in
):
    place = order.ship_to
    url = reverse("own_place", args=[place.pk])
    was = batch.parts.get().consignment.ship_to_lines
    signed_in(customer).post(
        url, {"label": "Gate 2", "street": "9 New Street", "city": "Elsewhere"}
    )
    place.refresh_from_db()
    assert (place.label, place.street) == ("Gate 2", "9 New Street")
    assert place.city != "Elsewhere"
    batch.refresh_from_db()
    assert batch.parts.get().consignment.ship_to_lines == was
    assert "9 New Street" not in was
    assert signed_in(stranger).get(url).status_code == 404
    with pytest.raises(NotAllowed):
        change_own_ship_to(acting_user=customer, ship_to=place, state="NY")
    customer.may_order = False
    customer.save()
    assert signed_in(customer).post(url, {"label": "X", "street": "Y"}).status_code == 403


def test_what_is_switched_off_is_not_mailed_and_what_must_be_known_is(
    revision, order, rep, company, customer, signed_in
):
    quote = sent_quote(rep, revision, ShipToFactory(company=company))
    assert customer.email in recipients(quote)
    signed_in(customer).post("/home/mails/", {"orders": "on"})
    assert customer.email not in recipients(quote)
    Mail.objects.all().delete()
    for name in ("order_confirmed", "order_shipped", "order_cancelled"):
        mail_order(order, f"orders/ordering/mail/{name}.txt", name)
    of_customer = Mail.objects.filter(to=customer.email).values_list("subject", flat=True)
    assert sorted(of_customer) == ["order_cancelled", "order_confirmed"]
