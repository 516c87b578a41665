"""Every route on an empty plant, as every role: no error, and what is missing is named."""

import re
from collections.abc import Iterator
from typing import Final

import pytest
from django.db import transaction
from django.http import HttpResponse
from django.test import Client
from django.urls import NoReverseMatch, reverse
from pytest_django import DjangoDbBlocker

from blendshop.roles import STAFF, Role
from tests.factories import CompanyFactory, UserFactory
from tests.whole_site.test_permission_matrix import TABLE

pytestmark = pytest.mark.django_db

#: Routes that need a record have none to point at: a number, and a text, that nothing has.
NOTHING: Final = (
    {"pk": 999_999},
    {"number": "X-2026-0001"},
    {"code": "NOTHING"},
    {"serial": "X-2026-0001-01"},
    {"token": "no-token"},
    {"key": "no-key"},
    {"number": "X-2026-0001", "position": 1},
    {"number": "X-2026-0001", "pk": 999_999},
    {"pk": 999_999, "ship_to_pk": 999_999},
    {"pk": 999_999, "mail_pk": 999_999},
    {"pk": 999_999, "person_pk": 999_999},
    {"pk": 999_999, "scale": "main"},
    {"pk": 999_999, "table": "quotes"},
    {"pk": 999_999, "work": 999_999},
    {"source": "StockCost", "pk": 999_999},
    {"state": "ZZ"},
)

#: page, role: what it says is missing, and the page it leads to.
NAMED: Final = (
    ("blend_page", Role.OFFICE, "The catalogue has no base stock yet", "stock_costs"),
    ("blend_page", Role.FORMULATOR, "The catalogue has no base stock yet", "stock_costs"),
    ("blend_page", Role.REP, "The catalogue has no base stock yet", "first_steps"),
    ("stock_list", Role.OFFICE, "The catalogue has no base stock yet", "stock_costs"),
    ("stock_list", Role.PLANT, "The catalogue has no base stock yet", "first_steps"),
    ("lot_receive", Role.PLANT, "The catalogue has no base stock yet", "first_steps"),
    ("jar_test_register", Role.FORMULATOR, "The catalogue has no base stock yet", "stock_costs"),
    ("quote_new", Role.REP, "There is no customer yet", "customer_list"),
    ("quote_new", Role.OFFICE, "No package is set up yet", "package_setting"),
    ("quote_new", Role.REP, "No blend is saved yet", "blend_page"),
    ("tank_list", Role.PLANT, "No tank is in use", "first_steps"),
    ("tank_list", Role.OFFICE, "No tank is in use", "tank_setting"),
    ("scale_list", Role.OFFICE, "No tank is in use", "tank_setting"),
    ("the_day", Role.PLANT, "No tank is in use", "first_steps"),
    ("tank_planning", Role.OFFICE, "No tank is in use", "tank_setting"),
    ("season_plan", Role.REP, "No blend is saved yet", "blend_page"),
)


@pytest.fixture(scope="module")
def clients(
    django_db_setup: None, django_db_blocker: DjangoDbBlocker
) -> Iterator[dict[str, Client]]:
    """One person of each role and nothing else at all; and nobody."""
    with django_db_blocker.unblock(), transaction.atomic():
        found = {"nobody": Client()}
        for role in Role:
            company = CompanyFactory(active=False) if role is Role.CUSTOMER else None
            found[role.value] = Client()
            found[role.value].force_login(UserFactory(role=role, company=company))
        yield found
        transaction.set_rollback(True)


def _address(name: str) -> str:
    for arguments in ({}, *NOTHING):
        try:
            return reverse(name, kwargs=arguments)
        except NoReverseMatch:
            continue
    raise AssertionError(f"no arguments for {name}")


def _main(response: HttpResponse) -> str:
    found = re.search(r"<main.*?</main>", response.content.decode(), re.DOTALL)
    assert found is not None
    return " ".join(found.group(0).split())


@pytest.mark.parametrize("column", ["nobody", *(role.value for role in Role)])
def test_no_route_fails_on_an_empty_plant(clients: dict[str, Client], column: str) -> None:
    failed = {}
    for name, (method, _letters) in TABLE.items():
        with transaction.atomic():
            answer = getattr(clients[column], method)(_address(name))
            transaction.set_rollback(True)
        if answer.status_code >= 500 or b"At least one stock is needed" in answer.content:
            failed[name] = answer.status_code
    assert failed == {}


@pytest.mark.parametrize(("page", "role", "words", "leads_to"), NAMED)
def test_a_page_names_what_is_missing_and_leads_there(
    clients: dict[str, Client], page: str, role: Role, words: str, leads_to: str
) -> None:
    text = _main(clients[role.value].get(reverse(page)))
    after = text.partition(words)[2]
    assert f'href="{reverse(leads_to)}"' in after.partition("</p>")[0]


def test_a_customer_reads_that_there_is_nothing_to_blend_from_and_no_way_to_set_it(
    clients: dict[str, Client],
) -> None:
    text = _main(clients["customer"].get(reverse("blend_page"), {"N_min": "20"}))
    assert "Nothing to blend from" in text
    assert "/start/" not in text
    assert "/stocks/" not in text


def test_the_api_names_the_step_too(clients: dict[str, Client]) -> None:
    body = {"targets": [{"nutrient": "N", "min": 20}]}
    answer = clients["office"].post(
        reverse("api_formulations"), body, content_type="application/json"
    )
    assert answer.status_code == 400
    said = answer.json()
    assert said["code"] == "bad_input"
    assert "First steps, Stocks and their costs" in said["detail"]
    assert said["fields"] == {"stocks": said["detail"]}


@pytest.mark.parametrize("role", sorted(STAFF))
def test_everybody_of_the_plant_reads_who_does_what(clients: dict[str, Client], role: Role) -> None:
    text = _main(clients[role.value].get(reverse("first_steps")))
    assert "12. Scales verified" in text
    may_set = role is Role.OFFICE
    assert (f'href="{reverse("price_setting")}"' in text) == may_set
    assert ("does it: office" in text) != may_set
