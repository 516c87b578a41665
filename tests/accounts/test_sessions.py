"""Sessions: idle ones end, own ones are listed and ended, a new password ends the others."""

import re
from datetime import timedelta

import pytest
from allauth.usersessions.models import UserSession
from django.urls import reverse
from django.utils import timezone

from blendshop.accounts.actions.way_in import end_sessions
from blendshop.accounts.models import SecurityEvent
from blendshop.errors import NotAllowed
from blendshop.outbox.actions import deliver_overdue
from blendshop.roles import Role
from tests.accounts.conftest import sign_in
from tests.factories import PASSWORD, CompanyFactory, UserFactory

NEW = "clover-between-two-mowings"


def idle_for(client, minutes):
    """As if the session had last been used so long ago."""
    session = client.session
    session["used_at"] -= minutes * 60
    session.save()


@pytest.mark.parametrize(("minutes", "still_in"), [(29, True), (31, False)])
def test_a_session_nobody_uses_ends(rep, settings, minutes, still_in):
    settings.SESSION_IDLE_MINUTES = 30
    client, _ = sign_in(rep)
    idle_for(client, minutes)
    page = client.get("/quotes/")
    assert (page.status_code == 200) is still_in
    if not still_in:
        assert page["Location"] == "/people/login/?next=/quotes/"
        assert "_auth_user_id" not in client.session


@pytest.mark.parametrize(("hours", "still_in"), [(7.9, True), (8.1, False)])
def test_a_session_in_use_ends_too(rep, settings, hours, still_in):
    settings.SESSION_HOURS = 8
    client, _ = sign_in(rep)
    session = client.session
    session["begun_at"] -= hours * 3600
    session.save()
    assert (client.get("/quotes/").status_code == 200) is still_in
    assert ("_auth_user_id" in client.session) is still_in


@pytest.mark.parametrize(("hours", "still_in"), [(11.9, True), (12.1, False)])
def test_one_of_the_plants_people_ends_after_twelve_hours(rep, hours, still_in):
    client, _ = sign_in(rep)
    session = client.session
    session["begun_at"] -= hours * 3600
    session.save()
    assert (client.get("/quotes/").status_code == 200) is still_in


def test_one_of_a_customer_lasts_longer(db):
    owner = UserFactory(role=Role.CUSTOMER, company=CompanyFactory())
    client, _ = sign_in(owner)
    session = client.session
    session["begun_at"] -= 23 * 3600
    session.save()
    client.get("/people/")
    assert "_auth_user_id" in client.session


def test_the_office_ends_the_sessions_of_somebody_else_and_not_its_own(rep, office):
    tablet, _ = sign_in(rep)
    desk, _ = sign_in(office)
    action = {"action": "end_sessions", "_selected_action": [rep.pk, office.pk]}
    people = reverse("admin:accounts_user_changelist")
    page = desk.post(people, action, follow=True).content.decode()
    assert f"{rep} is signed out everywhere." in page
    assert "End your own sessions under your sign-in." in page
    assert tablet.get("/people/")["Location"].startswith("/people/login/")
    assert desk.get("/people/").status_code == 200
    event = SecurityEvent.objects.get(kind="session_ended")
    assert (event.who, event.whom, event.what) == (office, rep, "1 session ended")
    _, again = sign_in(rep)
    assert again.status_code == 302  # the password is still good


def test_nobody_but_the_office_ends_the_sessions_of_another(rep, formulator):
    with pytest.raises(NotAllowed):
        end_sessions(acting_user=rep, person=formulator)


def test_use_keeps_it_alive_and_is_written_down_once_a_minute(
    rep, settings, django_assert_num_queries
):
    settings.SESSION_IDLE_MINUTES = 30
    client, _ = sign_in(rep)
    long_ago = timezone.now() - timedelta(hours=1)
    UserSession.objects.update(last_seen_at=long_ago)
    for _turn in range(3):
        idle_for(client, 25)
        assert client.get("/people/").status_code == 200
    assert UserSession.objects.get().last_seen_at > long_ago
    before = client.session["used_at"]
    client.get("/people/")
    assert client.session["used_at"] == before


def test_an_idle_session_does_not_speak_to_the_api(formulator, settings):
    settings.SESSION_IDLE_MINUTES = 30
    client, _ = sign_in(formulator)
    idle_for(client, 31)
    answer = client.post("/api/v1/formulations/", {}, content_type="application/json")
    assert answer.status_code in (401, 403)


def test_own_sessions_are_listed_and_one_is_ended(rep, office):
    desk = "Mozilla/5.0 (X11; Linux x86_64; rv:140.0) Gecko/20100101 Firefox/140.0"
    tablet = "Mozilla/5.0 (Linux; Android 15; rv:140.0) Gecko/140.0 Firefox/140.0"
    here, _ = sign_in(rep, HTTP_USER_AGENT=desk)
    there, _ = sign_in(rep, HTTP_USER_AGENT=tablet)
    html = here.get("/people/", HTTP_USER_AGENT=desk).content.decode()
    assert "Firefox on Linux" in html
    assert "Firefox on Android" in html
    ends = re.findall(r'action="(/people/sessions/\d+/end/)"', html)
    assert len(ends) == 1  # the own one ends by signing out
    stranger, _ = sign_in(office)
    assert stranger.post(ends[0]).status_code == 404
    assert there.get("/people/").status_code == 200
    assert here.post(ends[0]).status_code == 302
    assert there.get("/people/")["Location"].startswith("/people/login/")
    event = SecurityEvent.objects.get(kind="session_ended")
    assert (event.who, event.whom) == (rep, rep)
    assert event.what == "127.0.0.1 Firefox on Android"


def test_a_new_password_ends_the_other_sessions_and_asks_for_the_old_one(rep, mailoutbox):
    here, _ = sign_in(rep)
    there, _ = sign_in(rep)
    form = {"oldpassword": "wrong", "password1": NEW, "password2": NEW}
    assert here.post("/people/password/change/", form).status_code == 200
    done = here.post("/people/password/change/", {**form, "oldpassword": PASSWORD})
    deliver_overdue.call()
    assert done["Location"] == "/people/"
    assert here.get("/people/").status_code == 200
    assert there.get("/people/")["Location"].startswith("/people/login/")
    assert SecurityEvent.objects.get(kind="password_set").whom == rep
    assert [mail.to for mail in mailoutbox] == [[rep.email]]


@pytest.mark.parametrize(
    ("password", "why"),
    [
        ("short-1-pass", None),
        ("elevenchars", "at least 12 characters"),
        ("qwertyuiop123456789", None),
        ("123456789012", "entirely numeric"),
        ("administrator", "too common"),
    ],
)
def test_new_passwords_are_twelve_characters_and_not_common(rep, password, why):
    client, _ = sign_in(rep)
    form = {"oldpassword": PASSWORD, "password1": password, "password2": password}
    page = client.post("/people/password/change/", form)
    assert (page.status_code == 302) is (why is None)
    if why:
        assert why in page.content.decode()


def test_a_password_of_before_still_signs_in(rep):
    rep.set_password("tiny")
    rep.save()
    _, answer = sign_in(rep, "tiny")
    assert answer.status_code == 302
