"""The second factor: asked of the roles of the setting, set up, shown, kept, removed."""

import json
import re

import pytest
from allauth.mfa.models import Authenticator
from allauth.mfa.totp.internal.auth import TOTP
from cryptography.fernet import InvalidToken
from django.core.exceptions import ImproperlyConfigured
from django.core.management import call_command
from django.test import Client, TestCase
from rest_framework.authtoken.models import Token

from blendshop import accounts
from blendshop.accounts.apps import AccountsConfig
from blendshop.accounts.models import SecurityEvent
from blendshop.errors import NotAllowed
from blendshop.outbox.actions import deliver_overdue
from tests.accounts.conftest import SECRET, code_of, sign_in
from tests.factories import PASSWORD

SIGN_IN = "/people/second-factor/sign-in/"
SET_UP = "/people/second-factor/app/"


@pytest.fixture
def asked(settings):
    """As in production."""
    settings.SECOND_FACTOR_ROLES = ["formulator", "office"]


def confirm(client, address):
    """Open a page that asks for the password again first."""
    page = client.get(address)
    if page.status_code == 302:
        client.post(page["Location"], {"password": PASSWORD})
        page = client.get(address)
    assert page.status_code == 200
    return page.content.decode()


def set_up_app(client):
    """Set up an app in the browser; its key and the page that follows."""
    html = confirm(client, SET_UP)
    secret = re.search(r'id="second-factor-key">(\w+)<', html)[1]
    with TestCase.captureOnCommitCallbacks(execute=True):
        answer = client.post(SET_UP, {"code": code_of(secret)}, follow=True)
    return secret, answer


@pytest.mark.usefixtures("asked")
def test_without_one_nothing_else_opens_until_it_is_set_up(office):
    client, answer = sign_in(office)
    assert answer.status_code == 302
    for address in ("/quotes/", "/back-office/", "/people/security-log/", "/people/", "/"):
        page = client.get(address)
        assert (page.status_code, page["Location"]) == (302, "/people/second-factor/")
    assert (
        "Your role needs a second factor" in client.get("/people/second-factor/").content.decode()
    )
    refused = client.post("/api/v1/formulations/", {}, content_type="application/json")
    assert (refused.status_code, refused.json()["code"]) == (403, "second_factor_needed")
    _, page = set_up_app(client)
    assert page.status_code == 200
    assert client.get("/quotes/").status_code == 200
    assert client.get("/back-office/").status_code == 200
    assert (
        client.post("/api/v1/formulations/", {}, content_type="application/json").status_code == 400
    )


@pytest.mark.usefixtures("asked")
def test_other_roles_and_debug_are_not_asked(rep, office, settings, signed_in):
    assert signed_in(rep).get("/quotes/").status_code == 200
    settings.SECOND_FACTOR_ROLES = []
    assert signed_in(office).get("/quotes/").status_code == 200


@pytest.mark.usefixtures("asked")
def test_a_superuser_holds_every_role_and_is_asked(django_user_model):
    boss = django_user_model.objects.create_superuser("boss@plant.example", PASSWORD, name="B")
    client, _ = sign_in(boss)
    assert client.get("/back-office/")["Location"] == "/people/second-factor/"


@pytest.mark.usefixtures("asked")
def test_signing_in_takes_the_code_and_a_code_only_once(office, with_app):
    with_app(office)
    client, answer = sign_in(office)
    assert answer["Location"] == SIGN_IN
    assert client.get("/quotes/")["Location"].startswith("/people/login/")
    wrong = client.post(SIGN_IN, {"code": "000000"})
    assert "Incorrect code" in wrong.content.decode()
    code = code_of(SECRET)
    assert client.post(SIGN_IN, {"code": code}).status_code == 302
    assert client.get("/quotes/").status_code == 200
    again, _ = sign_in(office)
    assert "Incorrect code" in again.post(SIGN_IN, {"code": code}).content.decode()
    kinds = set(SecurityEvent.objects.values_list("kind", flat=True))
    assert {"factor_failed", "signed_in"} <= kinds


@pytest.mark.usefixtures("asked")
def test_a_session_of_before_the_second_factor_does_not_profit_from_it(office):
    """Somebody else may sit there with the password, waiting."""
    waiting, _ = sign_in(office)
    own, _ = sign_in(office)
    set_up_app(own)
    assert waiting.get("/quotes/")["Location"] == "/people/login/"
    assert "_auth_user_id" not in waiting.session
    assert own.get("/quotes/").status_code == 200


def test_recovery_codes_are_shown_once_and_sign_in_once(office):
    client, _ = sign_in(office)
    _, page = set_up_app(client)
    codes = re.findall(r"<code>(\d{8})</code>", page.content.decode())
    assert len(codes) == 10
    again = client.get("/people/second-factor/codes/").content.decode()
    assert codes[0] not in again
    assert "not shown again" in again
    assert client.get("/people/second-factor/codes/download/").status_code == 404
    for expected in (302, 200):
        other, _ = sign_in(office)
        assert other.post(SIGN_IN, {"code": codes[0]}).status_code == expected


def test_secrets_stand_in_the_database_under_a_key(office, with_app, settings):
    with_app(office)
    row = Authenticator.objects.get(user=office, type="totp")
    assert SECRET not in json.dumps(row.data)
    settings.SECRET_KEY_FALLBACKS = [settings.SECRET_KEY]
    settings.SECRET_KEY = "another-one-for-this-test"
    assert TOTP(row).validate_code(code_of(SECRET))
    settings.SECRET_KEY_FALLBACKS = []
    with pytest.raises(InvalidToken):
        TOTP(row).validate_code(code_of(SECRET, 1))


def test_adding_and_removing_are_written_down_and_told_to_the_person(office, mailoutbox):
    client, _ = sign_in(office)
    set_up_app(client)
    confirm(client, "/people/second-factor/app/remove/")
    client.post("/people/second-factor/app/remove/")
    deliver_overdue.call()
    assert not Authenticator.objects.exists()
    kinds = list(SecurityEvent.objects.filter(whom=office).values_list("kind", flat=True))
    assert kinds.count("factor_added") == 1
    assert kinds.count("factor_removed") == 2  # the app, and the codes that stood in for it
    removed = SecurityEvent.objects.filter(kind="factor_removed").values_list("what", flat=True)
    assert set(removed) == {"authenticator app", "recovery codes"}
    assert {tuple(mail.to) for mail in mailoutbox} == {(office.email,)}
    assert "Second factor added" in mailoutbox[0].subject


@pytest.mark.usefixtures("asked")
def test_a_token_goes_to_whoever_has_one_where_the_role_asks(office, rep, with_app):
    with pytest.raises(NotAllowed, match="second factor"):
        Token.objects.create(user=office)
    call_command("drf_create_token", rep.email, verbosity=0)
    with_app(office)
    token = Token.objects.create(user=office)
    answer = Client().post(
        "/api/v1/formulations/",
        {},
        content_type="application/json",
        headers={"Authorization": f"Token {token.key}"},
    )
    assert answer.status_code == 400  # let in; the request itself is empty
    events = SecurityEvent.objects.filter(kind="token_issued")
    assert {event.whom for event in events} == {office, rep}
    token.delete()
    assert SecurityEvent.objects.filter(kind="token_revoked", whom=office).exists()


def test_a_setting_that_names_no_role_is_refused(settings):
    settings.SECOND_FACTOR_ROLES = ["office", "boss"]
    with pytest.raises(ImproperlyConfigured, match="boss"):
        AccountsConfig("blendshop.accounts", accounts).ready()
