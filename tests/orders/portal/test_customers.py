"""Customers: companies, their people and addresses, kept by reps and the office."""

import re
from decimal import Decimal

import pytest
from django.urls import reverse

from blendshop.accounts.models import Company, User
from blendshop.errors import BadInput, NotAllowed
from blendshop.outbox.actions import deliver_overdue
from blendshop.roles import Role, roles_of
from orders.customers import actions
from orders.models import CustomerTerms, ShipTo
from tests.factories import CompanyFactory, FreightZoneFactory, PriceTierFactory, ShipToFactory

pytestmark = pytest.mark.django_db

ADDRESS = {
    "label": "South yard",
    "street": "4 Mill Road",
    "city": "Millbrook",
    "state": "md",
    "county": "Kent",
    "postal_code": "00000",
}


def test_the_list_finds_by_company_person_and_town(signed_in, rep, company, customer):
    ShipToFactory(company=company, city="Millbrook")
    CompanyFactory(name="Another Lawn")
    client = signed_in(rep)
    for word in ("brookmeadow", "casey", "millbrook", "owner@brook"):
        page = client.get(reverse("customer_list"), {"q": word}).content.decode()
        assert "Brookmeadow Lawn Care" in page
        assert "Another Lawn" not in page


def test_the_list_costs_the_same_for_few_and_for_many(
    signed_in, rep, company, django_assert_max_num_queries
):
    CompanyFactory.create_batch(15)
    client = signed_in(rep)
    with django_assert_max_num_queries(7):
        client.get(reverse("customer_list"))


@pytest.mark.parametrize(
    ("name", "needs_pk"),
    [
        ("customer_list", False),
        ("customer_new", False),
        ("customer_detail", True),
        ("customer_edit", True),
        ("customer_add_ship_to", True),
    ],
)
def test_customers_are_no_business_of_the_others(
    signed_in, company, customer, plant_worker, formulator, rep, office, name, needs_pk
):
    address = reverse(name, args=[company.pk] if needs_pk else [])
    for person in (customer, plant_worker, formulator):
        assert signed_in(person).get(address).status_code == 403
    for person in (rep, office):
        assert signed_in(person).get(address).status_code == 200


def test_a_customer_is_added_and_changed(signed_in, rep):
    client = signed_in(rep)
    answer = client.post(reverse("customer_new"), {"name": "Hillside Turf", "phone": "555 0100"})
    company = Company.objects.get(name="Hillside Turf")
    assert answer.url == reverse("customer_detail", args=[company.pk])
    client.post(
        reverse("customer_edit", args=[company.pk]), {"name": "Hillside Turf Care", "notes": "x"}
    )
    company.refresh_from_db()
    assert (company.name, company.active) == ("Hillside Turf Care", False)


def test_a_taken_name_is_refused_in_words(signed_in, rep, company):
    answer = signed_in(rep).post(reverse("customer_new"), {"name": "brookmeadow lawn care"})
    assert answer.status_code == 400
    assert "A company of this name already exists." in answer.content.decode()


def test_an_added_person_gets_a_link_chooses_a_password_and_signs_in(
    client, signed_in, rep, company, mailoutbox
):
    signed_in(rep).post(
        reverse("customer_add_person", args=[company.pk]),
        {"name": "Jo New", "email": "Jo@Brookmeadow.example"},
    )
    deliver_overdue.call()
    person = User.objects.get(email="jo@brookmeadow.example")
    assert (person.company, roles_of(person)) == (company, {Role.CUSTOMER})
    assert not person.has_usable_password()
    (mail,) = mailoutbox
    assert mail.to == [person.email]
    link = re.search(r"http://[^/]+(/\S+)", mail.body)[1]
    form = client.get(link, follow=True)
    assert form.status_code == 200
    chosen = "meadow-and-clover-42"
    address = form.request["PATH_INFO"]
    client.post(address, {"password1": chosen, "password2": chosen}, follow=True)
    assert client.login(email=person.email, password=chosen)


def test_an_address_in_use_is_refused(rep, company, customer):
    with pytest.raises(BadInput, match="already exists"):
        actions.add_person(
            acting_user=rep, company=company, name="Twin", email="OWNER@brookmeadow.example"
        )


def test_an_address_is_added_and_corrected(signed_in, rep, company):
    zone = FreightZoneFactory()
    client = signed_in(rep)
    add = reverse("customer_add_ship_to", args=[company.pk])
    client.post(add, {**ADDRESS, "zone": zone.pk, "active": "on"})
    place = ShipTo.objects.get(company=company)
    assert (place.state, place.active) == ("MD", True)
    twice = client.post(add, {**ADDRESS, "zone": zone.pk, "active": "on"})
    assert twice.status_code == 400
    assert "already has a ship-to of this name" in twice.content.decode()
    correct = reverse("customer_ship_to", args=[company.pk, place.pk])
    client.post(correct, {**ADDRESS, "city": "Newtown", "zone": zone.pk})
    place.refresh_from_db()
    assert (place.city, place.active) == ("Newtown", False)


def test_an_address_of_another_customer_is_not_found_under_this_one(signed_in, rep, company):
    other = ShipToFactory()
    address = reverse("customer_ship_to", args=[company.pk, other.pk])
    assert signed_in(rep).get(address).status_code == 404


def test_a_state_is_two_letters(signed_in, rep, company):
    zone = FreightZoneFactory()
    answer = signed_in(rep).post(
        reverse("customer_add_ship_to", args=[company.pk]),
        {**ADDRESS, "state": "M1", "zone": zone.pk},
    )
    assert answer.status_code == 400
    assert "Two capital letters" in answer.content.decode()
    assert not ShipTo.objects.exists()


def test_only_the_office_sets_the_terms(signed_in, rep, office, company):
    tier = PriceTierFactory(name="large", margin_pct=Decimal(10), floor_pct=Decimal(5))
    address = reverse("customer_terms", args=[company.pk])
    assert signed_in(rep).post(address, {"tier": tier.pk}).status_code == 403
    with pytest.raises(NotAllowed):
        actions.set_terms(acting_user=rep, company=company, tier=tier)
    signed_in(office).post(address, {"tier": tier.pk, "payment_terms": "net 30"})
    assert CustomerTerms.objects.get(company=company).tier == tier
    signed_in(office).post(address, {"tier": ""})
    assert not CustomerTerms.objects.filter(company=company).exists()


def test_the_page_of_a_customer_shows_what_belongs_to_it(signed_in, rep, company, customer):
    ShipToFactory(company=company, label="South yard")
    page = signed_in(rep).get(reverse("customer_detail", args=[company.pk])).content.decode()
    for expected in ("Casey Owner", "South yard", "default price tier"):
        assert expected in page
