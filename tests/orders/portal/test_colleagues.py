"""An owner of a company invites colleagues, says what they may do, and ends a login."""

import re
from importlib import import_module

import pytest
from django.apps import apps
from django.test import Client
from django.urls import reverse

from blendshop.accounts.models import SecurityEvent, User
from blendshop.errors import NotAllowed
from blendshop.outbox.actions import deliver_overdue
from blendshop.roles import Role
from orders.customers.actions import add_person, set_login, set_may_order
from tests.factories import CompanyFactory, PlantProfileFactory, UserFactory

CHOSEN = "meadow-and-clover-42"
PAGE = "/home/colleagues/"


@pytest.fixture
def owner(customer):
    customer.is_owner = True
    customer.save()
    return customer


@pytest.fixture
def crew(company):
    return UserFactory(name="Cory Crew", role=Role.CUSTOMER, company=company)


def test_an_owner_invites_and_the_colleague_is_signed_in_by_one_step(owner, signed_in, mailoutbox):
    PlantProfileFactory(name="Bluestem Blending")
    asked = {"name": "Nora New", "email": "Nora@brookmeadow.example"}  # not ticked: may only look
    assert signed_in(owner).post(PAGE, asked)["Location"] == PAGE
    deliver_overdue.call()
    mail = next(mail for mail in mailoutbox if mail.to == ["nora@brookmeadow.example"])
    assert mail.body.startswith("Hello Nora New,")
    assert "Bluestem Blending" in mail.subject + mail.body
    assert mail.subject.endswith("Bluestem Blending")
    link = re.search(r"http://\S+", mail.body)[0]
    browser = Client()
    page = browser.get("/" + link.split("/", 3)[3], follow=True)
    assert "Welcome, Nora New" in page.content.decode()
    chosen = {"password1": CHOSEN, "password2": CHOSEN}
    home = browser.post(page.request["PATH_INFO"], chosen, follow=True)
    assert home.request["PATH_INFO"] == "/home/"
    person = home.context["user"]
    assert (person.name, person.company, person.may_order) == ("Nora New", owner.company, False)
    assert not person.is_owner
    again = Client().get("/" + link.split("/", 3)[3], follow=True)
    assert "used or has expired" in again.content.decode()


def test_a_forgotten_password_is_chosen_anew_without_signing_in(owner, mailoutbox):
    browser = Client()
    browser.post(reverse("account_reset_password"), {"email": owner.email})
    deliver_overdue.call()
    link = re.search(r"http://\S+", mailoutbox[-1].body)[0]
    page = browser.get("/" + link.split("/", 3)[3], follow=True)
    chosen = {"password1": CHOSEN, "password2": CHOSEN}
    done = browser.post(page.request["PATH_INFO"], chosen, follow=True)
    assert not done.context["user"].is_authenticated


def test_an_owner_says_who_may_order_and_ends_a_login_with_its_sessions(owner, crew, signed_in):
    of_crew, of_owner = signed_in(crew), signed_in(owner)
    of_owner.post(reverse("colleague_may_order", args=[crew.pk]), {"may_order": "no"})
    assert "You may look and not order" in of_crew.get("/home/").content.decode()
    of_owner.post(reverse("colleague_login", args=[crew.pk]), {"may_sign_in": "no"})
    assert of_crew.get("/home/").status_code == 302
    crew.refresh_from_db()
    assert (crew.may_order, crew.is_active) == (False, False)
    written = SecurityEvent.objects.filter(whom=crew, who=owner, kind="access_changed")
    assert written.count() == 2
    of_owner.post(reverse("colleague_login", args=[crew.pk]), {"may_sign_in": "yes"})
    crew.refresh_from_db()
    assert crew.is_active


def test_nobody_but_an_owner_and_only_over_the_own_colleagues(owner, crew, stranger, signed_in):
    assert signed_in(crew).get(PAGE).status_code == 403
    assert signed_in(crew).post(PAGE, {"name": "N", "email": "n@x.example"}).status_code == 403
    stranger.is_owner = True
    stranger.save()
    url = reverse("colleague_login", args=[crew.pk])
    assert signed_in(stranger).post(url, {"may_sign_in": "no"}).status_code == 404
    for who, whom in ((stranger, crew), (crew, crew), (owner, owner), (crew, owner)):
        with pytest.raises(NotAllowed):
            set_login(acting_user=who, person=whom, may_sign_in=False)
        with pytest.raises(NotAllowed):
            set_may_order(acting_user=who, person=whom, may_order=False)
    assert User.objects.filter(pk__in=[owner.pk, crew.pk], is_active=True).count() == 2


def test_the_first_person_of_a_company_owns_it_and_the_office_says_otherwise(
    rep, office, company, signed_in
):
    first, second = (
        add_person(acting_user=rep, company=company, name=name, email=f"{name}@brook.example")
        for name in ("ada", "bo")
    )
    assert (first.is_owner, second.is_owner) == (True, False)
    signed_in(office).post(
        reverse("customer_owner", args=[company.pk, second.pk]), {"is_owner": "yes"}
    )
    second.refresh_from_db()
    assert second.is_owner


def test_companies_of_before_are_owned_by_their_first_person_who_can_sign_in(company):
    left, first, later = (UserFactory(company=company) for _ in range(3))
    other = UserFactory(company=CompanyFactory())
    User.objects.filter(pk=left.pk).update(is_active=False)
    import_module("blendshop.accounts.migrations.0008_owners").first_person_owns(apps, None)
    owners = set(User.objects.filter(is_owner=True).values_list("pk", flat=True))
    assert owners == {first.pk, other.pk}
    assert later.pk not in owners
