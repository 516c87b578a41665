"""What is done to a person's way in: written down, told, and never done to oneself."""

from io import StringIO

import pytest
from allauth.account.models import EmailAddress
from allauth.mfa.models import Authenticator
from allauth.usersessions.models import UserSession
from django.contrib.auth.models import Group
from django.core.management import CommandError, call_command
from django.urls import reverse

from blendshop.accounts.actions.way_in import end_session, remove_second_factor
from blendshop.accounts.models import SecurityEvent, User
from blendshop.accounts.security_log import write_event
from blendshop.errors import NotAllowed
from blendshop.immutable import WrittenOnce
from blendshop.outbox.actions import deliver_overdue
from blendshop.roles import Role
from tests.accounts.conftest import sign_in
from tests.factories import UserFactory


@pytest.fixture
def done(signed_in, office):
    """``done(path, data)`` posts to the back office as the office, mails included."""

    def post(path, data, by=office):
        answer = signed_in(by).post(f"/back-office/accounts/user/{path}", data)
        deliver_overdue.call()
        return answer

    return post


def person_form(person, **changes):
    data = {
        "email": person.email,
        "name": person.name,
        "company": person.company_id or "",
        "groups": [group.pk for group in person.groups.all()],
        "is_active": "on",
        **({"is_staff": "on"} if person.is_staff else {}),
    }
    return {key: value for key, value in {**data, **changes}.items() if value is not None}


def group(role):
    return Group.objects.get(name=role.value).pk


def told(mailoutbox):
    return sorted(to for mail in mailoutbox for to in mail.to)


def test_a_new_role_is_written_down_and_told_to_office_formulators_and_the_person(
    done, rep, office, formulator, plant_worker, mailoutbox
):
    done(f"{rep.pk}/change/", person_form(rep, groups=[group(Role.REP), group(Role.FORMULATOR)]))
    event = SecurityEvent.objects.get(kind="roles_changed")
    assert (event.who, event.whom, event.address) == (office, rep, "127.0.0.1")
    assert event.what == "rep → formulator, rep"
    assert told(mailoutbox) == sorted([office.email, formulator.email, rep.email])
    assert all(len(mail.to) == 1 for mail in mailoutbox)
    assert "rep → formulator, rep" in mailoutbox[0].body


def test_saving_without_a_change_says_nothing(done, rep, mailoutbox):
    assert done(f"{rep.pk}/change/", person_form(rep)).status_code == 302
    assert not SecurityEvent.objects.exists()
    assert mailoutbox == []


def test_another_sign_in_address_is_access_and_the_old_one_opens_nothing(done, rep, office):
    EmailAddress.objects.create(user=rep, email=rep.email, verified=True)
    done(f"{rep.pk}/change/", person_form(rep, email="robin@plant.example", is_active=None))
    event = SecurityEvent.objects.get(kind="access_changed")
    assert "rep@plant.example → robin@plant.example" in event.what
    assert "active: True → -" in event.what
    assert not EmailAddress.objects.exists()


@pytest.mark.parametrize("field", ["groups", "is_staff", "is_superuser", "email", "company"])
def test_nobody_gives_himself_a_role_or_any_way_in(done, office, company, field):
    wanted = {
        "groups": [group(Role.OFFICE), group(Role.FORMULATOR)],
        "is_staff": None,
        "is_superuser": "on",
        "email": "other@plant.example",
        "company": company.pk,
    }
    done(f"{office.pk}/change/", person_form(office, **{field: wanted[field]}))
    office.refresh_from_db()
    assert [each.name for each in office.groups.all()] == ["office"]
    assert (office.is_staff, office.is_superuser, office.company) == (True, False, None)
    assert office.email == "office@plant.example"
    assert not SecurityEvent.objects.exists()


def test_a_superuser_gives_no_flag_in_the_back_office_to_anybody(done, rep):
    boss = UserFactory(is_superuser=True, is_staff=True)
    done(f"{rep.pk}/change/", person_form(rep, is_superuser="on"), by=boss)
    rep.refresh_from_db()
    assert not rep.is_superuser
    done(f"{boss.pk}/change/", person_form(boss, groups=[group(Role.OFFICE)]), by=boss)
    assert not boss.groups.exists()


def test_a_password_the_office_sets_is_written_down_and_told(
    done, customer, office, formulator, mailoutbox
):
    there, _ = sign_in(customer)
    new = {"password1": "clover-and-rye-grass", "password2": "clover-and-rye-grass"}
    done(f"{customer.pk}/password/", {**new, "usable_password": "true"})
    customer.refresh_from_db()
    assert customer.check_password("clover-and-rye-grass")
    event = SecurityEvent.objects.get(kind="password_set")
    assert (event.who, event.whom) == (office, customer)
    assert told(mailoutbox) == sorted([office.email, formulator.email, customer.email])
    assert all("clover-and-rye" not in mail.body for mail in mailoutbox)
    assert there.get("/people/")["Location"].startswith("/people/login/")


def test_the_own_password_is_not_set_without_the_old_one(done, office):
    new = {"password1": "clover-and-rye-grass", "password2": "clover-and-rye-grass"}
    answer = done(f"{office.pk}/password/", {**new, "usable_password": "true"})
    assert answer["Location"] == "/people/password/change/"
    office.refresh_from_db()
    assert not office.check_password("clover-and-rye-grass")


def test_a_person_of_the_plant_is_added_without_a_password_and_invited(
    done, office, formulator, mailoutbox
):
    form = {"email": "new@plant.example", "name": "Nico New", "groups": [group(Role.PLANT)]}
    assert done("add/", form).status_code == 302
    person = User.objects.get(email="new@plant.example")
    assert not person.has_usable_password()
    assert [each.name for each in person.groups.all()] == ["plant"]
    event = SecurityEvent.objects.get(kind="person_added")
    assert (event.who, event.whom, event.what) == (office, person, "plant")
    invitation = next(mail for mail in mailoutbox if mail.to == [person.email])
    assert "/people/password/reset/key/" in invitation.body
    assert told(mailoutbox) == sorted([office.email, formulator.email, person.email])


def test_a_lost_phone_is_mended_by_the_office_and_not_by_oneself(
    done, rep, office, formulator, with_app, mailoutbox
):
    with_app(rep)
    with_app(office)
    action = {"action": "remove_second_factor", "_selected_action": [rep.pk, office.pk]}
    done("", action)
    assert list(Authenticator.objects.values_list("user", flat=True)) == [office.pk]
    event = SecurityEvent.objects.get(kind="factor_removed")
    assert (event.who, event.whom) == (office, rep)
    assert told(mailoutbox) == sorted([office.email, formulator.email, rep.email])
    with pytest.raises(NotAllowed):
        remove_second_factor(acting_user=formulator, person=rep)
    boss = with_app(UserFactory(is_superuser=True))
    with pytest.raises(NotAllowed):
        remove_second_factor(acting_user=office, person=boss)


def test_the_sessions_of_a_lost_phone_end_with_it(rep, office):
    phone, _ = sign_in(rep)
    remove_second_factor(acting_user=office, person=rep)
    assert phone.get("/people/")["Location"].startswith("/people/login/")


def test_at_the_server_it_is_removed_for_whoever_is_alone(office, with_app):
    with_app(office)
    call_command("remove_second_factor", office.email.upper(), stdout=StringIO())
    assert not Authenticator.objects.exists()
    event = SecurityEvent.objects.get(kind="factor_removed")
    assert (event.who, event.whom) == (None, office)
    with pytest.raises(CommandError, match="Nobody signs in"):
        call_command("remove_second_factor", "nobody@plant.example")


def test_only_own_sessions_are_ended(rep, office):
    sign_in(rep)
    with pytest.raises(NotAllowed):
        end_session(acting_user=office, session=UserSession.objects.get(), address="127.0.0.1")


def test_lines_are_neither_edited_nor_deleted(rep):
    event = write_event(SecurityEvent.Kind.SIGNED_IN, who=rep, whom=rep)
    event.what = "nothing"
    for attempt in (
        event.save,
        event.delete,
        SecurityEvent.objects.all().delete,
        lambda: SecurityEvent.objects.update(what=""),
    ):
        with pytest.raises(WrittenOnce):
            attempt()


def test_the_office_reads_and_searches_the_log(signed_in, office, rep, plant_worker):
    write_event(SecurityEvent.Kind.SIGNED_IN, who=rep, whom=rep, address="198.51.100.7")
    write_event(SecurityEvent.Kind.SIGN_IN_FAILED, whom_name="who@else.example")
    client = signed_in(office)
    page = reverse("security_log")
    html = client.get(page).content.decode()
    assert "Robin Rep" in html
    assert "who@else.example" in html
    for query, shown, hidden in (
        ({"kind": "sign_in_failed"}, "who@else.example", "Robin Rep"),
        ({"q": "robin"}, "Robin Rep", "who@else.example"),
        ({"q": "198.51"}, "Robin Rep", "who@else.example"),
    ):
        html = client.get(page, query).content.decode()
        assert shown in html
        assert hidden not in html
    for other in (rep, plant_worker):
        assert signed_in(other).get(page).status_code == 403
