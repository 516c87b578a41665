"""Guessing is slowed by account and address together: no stranger locks anybody out."""

import pytest
from django.test import RequestFactory

from blendshop.accounts.models import SecurityEvent
from blendshop.accounts.security_log import address_of
from blendshop.settings import ACCOUNT_RATE_LIMITS
from tests.accounts.conftest import sign_in
from tests.factories import UserFactory


@pytest.fixture(autouse=True)
def as_in_production(settings):
    settings.ACCOUNT_RATE_LIMITS = ACCOUNT_RATE_LIMITS
    settings.ALLAUTH_TRUSTED_PROXY_COUNT = 1


def at(address):
    return {"HTTP_X_FORWARDED_FOR": address, "REMOTE_ADDR": "127.0.0.1"}


def test_a_stranger_locks_out_only_himself(customer):
    for _attempt in range(6):
        _, answer = sign_in(customer, "guess", **at("203.0.113.9"))
    assert "Too many failed login attempts" in answer.content.decode()
    _, stranger = sign_in(customer, **at("203.0.113.9"))
    assert stranger.status_code == 200  # not even with the right one
    _, own = sign_in(customer, **at("198.51.100.7"))
    assert own.status_code == 302
    kinds = list(SecurityEvent.objects.values_list("kind", flat=True))
    assert kinds.count("sign_in_failed") == 5
    assert kinds.count("locked_out") == 1  # once, however often it is tried
    event = SecurityEvent.objects.get(kind="locked_out")
    assert (event.whom, event.address, event.who) == (customer, "203.0.113.9", None)


def test_the_lock_of_one_account_is_none_of_another_at_the_same_address(customer, rep):
    for _attempt in range(6):
        sign_in(customer, "guess", **at("198.51.100.7"))
    assert sign_in(rep, **at("198.51.100.7"))[1].status_code == 302


def test_one_address_cannot_try_many_accounts_without_end(customer):
    answers = [
        sign_in(UserFactory.build(email=f"{n}@x.example"), "guess", **at("203.0.113.9"))[1]
        for n in range(61)
    ]
    assert "not correct" in answers[59].content.decode()
    assert "Too many failed" in answers[60].content.decode()
    assert sign_in(customer, **at("198.51.100.7"))[1].status_code == 302


def test_twenty_five_people_of_one_office_sign_in_at_once(company):
    people = [UserFactory() for _ in range(25)]
    answers = [sign_in(person, **at("198.51.100.7"))[1].status_code for person in people]
    assert answers == [302] * 25


@pytest.mark.parametrize(
    ("proxies", "said", "seen"),
    [
        (0, "203.0.113.9", "127.0.0.1"),
        (1, "203.0.113.9", "203.0.113.9"),
        (1, "10.9.9.9, 203.0.113.9", "203.0.113.9"),  # the first is what the client made up
        (2, "203.0.113.9, 10.0.0.2", "203.0.113.9"),
        (1, None, "127.0.0.1"),
    ],
)
def test_the_address_is_the_one_the_trusted_proxies_saw(settings, proxies, said, seen):
    settings.ALLAUTH_TRUSTED_PROXY_COUNT = proxies
    headers = {} if said is None else {"X-Forwarded-For": said}
    assert address_of(RequestFactory().get("/", headers=headers)) == seen


def test_what_a_client_says_of_its_address_does_not_reset_the_count(customer):
    for number in range(6):
        _, answer = sign_in(customer, "guess", **at(f"10.0.0.{number}, 203.0.113.9"))
    assert "Too many failed login attempts" in answer.content.decode()
