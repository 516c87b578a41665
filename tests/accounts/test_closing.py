"""What closes a person's other ways in: a new password, leaving, a role that asks for more."""

import pytest
from django.contrib.auth.models import Group
from rest_framework.authtoken.models import Token

from blendshop.accounts.actions.way_in import Standing, note_changes, remove_second_factor
from blendshop.accounts.models import SecurityEvent
from blendshop.roles import Role
from tests.accounts.conftest import sign_in
from tests.factories import PASSWORD

NEW = "clover-between-two-mowings"


@pytest.fixture
def token(rep):
    return Token.objects.create(user=rep)


def changed(by, person, change):
    """The office changes a person; its line of the log."""
    before = Standing.of(person)
    change(person)
    person.save()
    note_changes(acting_user=by, person=person, before=before, address="127.0.0.1")
    return SecurityEvent.objects.exclude(kind__startswith="token").first()


def test_a_new_own_password_revokes_the_token_and_says_what_it_ended(rep, token):
    here, _ = sign_in(rep)
    sign_in(rep)
    assert "Your API token is revoked too" in here.get("/people/password/change/").content.decode()
    form = {"oldpassword": PASSWORD, "password1": NEW, "password2": NEW}
    here.post("/people/password/change/", form)
    assert not Token.objects.exists()
    assert SecurityEvent.objects.filter(kind="token_revoked", whom=rep).exists()
    event = SecurityEvent.objects.get(kind="password_set")
    assert event.what == "Changed by the person; 1 session ended; API token revoked."
    assert here.get("/people/").status_code == 200
    assert "API token" not in here.get("/people/password/change/").content.decode()


def test_whoever_leaves_and_comes_back_finds_nothing_open(rep, office, token):
    client, _ = sign_in(rep)
    event = changed(office, rep, lambda person: setattr(person, "is_active", False))
    assert event.what == "active: True → -; 1 session ended; API token revoked"
    changed(office, rep, lambda person: setattr(person, "is_active", True))
    assert client.get("/people/")["Location"].startswith("/people/login/")
    assert not Token.objects.exists()


def test_a_password_set_by_the_office_revokes_the_token(rep, office, token):
    event = changed(office, rep, lambda person: person.set_password(NEW))
    assert event.what == "Set by somebody else; no session to end; API token revoked."
    assert not Token.objects.exists()


def test_a_token_of_before_does_not_get_a_role_that_asks_for_a_second_factor(
    rep, office, token, settings
):
    settings.SECOND_FACTOR_ROLES = ["formulator"]
    changed(office, rep, lambda person: person.groups.add(Group.objects.get(name=Role.PLANT)))
    assert Token.objects.exists()
    changed(office, rep, lambda person: person.groups.add(Group.objects.get(name=Role.FORMULATOR)))
    assert not Token.objects.exists()


def test_a_removed_second_factor_takes_the_token_with_it(rep, office, token, with_app):
    with_app(rep)
    remove_second_factor(acting_user=office, person=rep)
    assert not Token.objects.exists()
    event = SecurityEvent.objects.get(kind="factor_removed")
    assert event.what == "authenticator app; no session to end; API token revoked"
