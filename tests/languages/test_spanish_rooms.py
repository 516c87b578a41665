"""What a customer reads in Spanish and metric units, and what of it the plant keeps in English."""

import pytest
from django.core import mail
from django.urls import reverse

from blendshop.languages.choice import Choice, choice_of
from blendshop.notices.models import Notice
from blendshop.outbox.models import Mail
from blendshop.roles import Role
from orders.models import Order
from orders.ordering.mail import mail_order
from orders.quoting.actions import quotes as actions
from orders.quoting.links import quote_token
from tests.factories import UserFactory
from tests.orders.quoting.conftest import draft, world

__all__ = ["draft", "world"]  # fixtures

OURS = "Traducción propia, aún no revisada por una persona"


@pytest.fixture
def spanish_company(company):
    company.language, company.units = "es", "metric"
    company.save()
    return company


@pytest.fixture
def sent(draft, spanish_company, customer, rep):
    """To a Spanish company, one of whose people reads English, and to an address without login."""
    UserFactory(email="en@brookmeadow.example", company=spanish_company, role=Role.CUSTOMER)
    type(customer).objects.filter(email="en@brookmeadow.example").update(language="en", units="us")
    draft.mailed_to = ["yard@brookmeadow.example"]
    draft.save()
    actions.send_quote(quote=draft, acting_user=rep)
    return draft


@pytest.mark.one_database
def test_each_reads_mails_and_pages_in_the_own_choice_and_the_plant_in_english(
    sent, customer, office, client, signed_in
):
    mails = {each.to: each for each in Mail.objects.filter(about_key=sent.number)}
    assert set(mails) >= {customer.email, "en@brookmeadow.example", "yard@brookmeadow.example"}
    for address in (customer.email, "yard@brookmeadow.example"):
        assert mails[address].subject == f"Cotización {sent.number} para su revisión"
        assert "Para aceptar: abra esta página" in mails[address].text
        assert " L" in mails[address].text
    assert mails["en@brookmeadow.example"].subject == f"Quote {sent.number} for you to read"
    assert "530 gal" in mails["en@brookmeadow.example"].text

    # The link goes by the company, until the visitor asks otherwise.
    page = reverse("quote_public", args=[quote_token(sent)])
    html = client.get(page).content.decode()
    assert "Cotización" in html
    assert "2,006 L" in html  # 530 x 3.785411784, NIST SP 811
    assert OURS in html
    html = client.get(f"{page}?lang=en").content.decode()
    assert OURS not in html
    assert "Quote as PDF" in html

    # What is done there in Spanish is told and kept in English.
    client.get(f"{page}?lang=es")
    answer = {"decision": "accept", "name": "Ana", "agreed": "on"}
    told = client.post(page, answer, follow=True)
    order = Order.objects.get()
    assert f"Gracias, Ana. {sent.number} está aceptada" in told.content.decode()
    assert all("accepted" in notice.text for notice in Notice.objects.filter(kind="quote_accepted"))
    house = Mail.objects.get(to=office.email, subject__contains=sent.number)
    assert house.subject == f"Quote {sent.number} is accepted"
    assert "accepted" in house.text

    html = signed_in(customer).get(reverse("order_detail", args=[order.number])).content.decode()
    assert "Historial" in html
    assert "2,006.3 L" in html
    for route in ("customer_home", "order_board", "own_questions", "own_places", "own_mails"):
        html = signed_in(customer).get(reverse(route)).content.decode()
        assert OURS in html, route


@pytest.mark.one_database
def test_an_order_s_mail_waits_for_no_language(sent, customer, rep):
    order = actions.accept_quote(quote=sent, acting_user=rep, name="Ana")
    mail_order(order, "orders/ordering/mail/order_confirmed.txt", "Order {number} is confirmed")
    newest = {each.to: each for each in Mail.objects.order_by("pk")}
    assert newest[customer.email].subject == f"El pedido {order.number} está confirmado"
    assert "Entrega: " in newest[customer.email].text
    assert newest["en@brookmeadow.example"].subject == f"Order {order.number} is confirmed"


def test_a_person_chooses_and_leaves_it_to_the_company_again(spanish_company, customer, signed_in):
    page = reverse("own_language")
    browser = signed_in(customer)
    assert "lo habitual: Español" in browser.get(page).content.decode()
    html = browser.post(page, {"language": "en", "units": "us"}, follow=True).content.decode()
    assert "Saved." in html
    assert "Language and units" in html
    customer.refresh_from_db()
    assert choice_of(customer) == Choice("en", "us")
    browser.post(page, {"language": "", "units": ""})
    customer.refresh_from_db()
    assert choice_of(customer) == Choice("es", "metric")
    refused = browser.post(page, {"language": "fr", "units": ""})
    assert refused.context["form"].errors
    customer.refresh_from_db()
    assert customer.language == ""


def test_the_rep_chooses_for_a_company(company, rep, signed_in):
    page = reverse("customer_edit", args=[company.pk])
    fields = {"name": company.name, "active": "on", "language": "es", "units": "metric"}
    assert signed_in(rep).post(page, fields).status_code == 302
    company.refresh_from_db()
    assert (company.language, company.units) == ("es", "metric")
    assert not mail.outbox


def test_who_has_checked_the_spanish_ends_the_notice(client, customer, settings):
    page = f"{reverse('account_login')}?lang=es"
    assert OURS in client.get(page).content.decode()
    settings.SPANISH_CHECKED_BY = "M. Ejemplo"
    assert OURS not in client.get(page).content.decode()
