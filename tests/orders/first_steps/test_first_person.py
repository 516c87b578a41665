"""The first person of an empty site: by the link alone, once, never by a stranger."""

import re
from datetime import timedelta
from io import StringIO
from urllib.parse import urlsplit

import pytest
from django.core import signing
from django.core.management import CommandError, call_command
from django.test import Client, override_settings
from django.utils import timezone

from blendshop.accounts.actions.first_person import make_first_person, make_office_person
from blendshop.accounts.models import SecurityEvent, User
from blendshop.accounts.set_up import is_nobody_yet, may_set_up, set_up_link
from blendshop.errors import BadInput, IllegalMove
from blendshop.roles import Role, roles_of
from formulas.stocks.actions.system_user import system_user
from tests.factories import UserFactory

pytestmark = pytest.mark.django_db

PASSWORD = "liquid-lawn-by-the-tote"
TYPED = {
    "name": "Olga Owner",
    "email": "Olga@Plant.example",
    "password": PASSWORD,
    "again": PASSWORD,
}
PAGE = "/people/set-up/"


def token() -> str:
    return urlsplit(set_up_link()).query.removeprefix("token=").replace("%3A", ":")


def told(*arguments: str) -> str:
    out = StringIO()
    call_command("start_plant", *arguments, stdout=out)
    return out.getvalue()


def test_an_empty_site_sends_its_visitor_from_sign_in_to_the_set_up_page() -> None:
    answer = Client().get("/", follow=True)
    assert answer.redirect_chain[-1][0] == PAGE
    assert "start_plant --page" in answer.content.decode()
    assert 'name="password"' not in answer.content.decode()


def test_a_stranger_without_the_link_gets_nothing() -> None:
    for sent in ({}, {"token": "guessed"}, {"token": signing.dumps("first person")}):
        Client().post(PAGE, TYPED | sent)
    assert not User.objects.exists()


def test_the_link_makes_the_first_person_of_the_office_and_signs_them_in() -> None:
    client = Client()
    page = client.get(urlsplit(set_up_link())._replace(scheme="", netloc="").geturl())
    assert 'name="password"' in page.content.decode()
    answer = client.post(PAGE, TYPED | {"token": token()})
    assert answer["Location"] == "/start/"
    person = User.objects.get()
    assert (person.email, person.is_staff, person.is_superuser) == (
        "olga@plant.example", True, False,
    )  # fmt: skip
    assert roles_of(person) == {Role.OFFICE}
    assert person.check_password(PASSWORD)
    assert client.get("/start/").status_code == 200


def test_whoever_does_everything_ticks_it_at_the_set_up_and_the_log_says_so() -> None:
    ticked = TYPED | {"token": token(), "also": ["plant", "formulator"]}
    assert Client().post(PAGE, ticked | {"also": ["customer"]}).status_code == 400
    Client().post(PAGE, ticked)
    assert roles_of(User.objects.get()) == {Role.OFFICE, Role.PLANT, Role.FORMULATOR}
    assert SecurityEvent.objects.get(kind="person_added").what == "formulator, office, plant"


def test_the_command_gives_the_first_person_more_roles_too() -> None:
    person = ("--name", "Olga Owner", "--email", "olga@plant.example")
    assert "Also: plant, rep." in told(*person, "--roles", "plant", "rep")
    assert roles_of(User.objects.get()) == {Role.OFFICE, Role.PLANT, Role.REP}


def test_once_there_is_somebody_the_page_is_gone_also_with_the_link(rep: User) -> None:
    assert Client().get(PAGE, {"token": token()}).status_code == 404
    assert Client().post(PAGE, TYPED | {"token": token()}).status_code == 404
    assert "Sign in" in Client().get("/people/login/").content.decode()
    assert list(User.objects.all()) == [rep]


def test_it_stays_closed_when_the_only_person_was_made_inactive(rep: User) -> None:
    rep.is_active = False
    rep.save()
    assert Client().get(PAGE, {"token": token()}).status_code == 404


def test_whoever_acts_for_loaded_data_is_nobody() -> None:
    system_user()
    assert is_nobody_yet()


def test_a_link_is_good_for_two_days(monkeypatch: pytest.MonkeyPatch) -> None:
    found = token()
    assert may_set_up(found)
    late = (timezone.now() + timedelta(hours=49)).timestamp()
    monkeypatch.setattr("django.core.signing.time.time", lambda: late)
    assert not may_set_up(found)


def test_a_link_of_another_site_is_not_good() -> None:
    with override_settings(SECRET_KEY="another site's"):
        found = token()
    assert not may_set_up(found)


@override_settings(DEBUG=True)
def test_in_debug_nobody_needs_a_link() -> None:
    assert 'name="password"' in Client().get(PAGE).content.decode()


@pytest.mark.parametrize(
    ("changed", "field", "words"),
    [
        ({"again": "other"}, "again", "The two passwords are not the same."),
        ({"password": "12345678", "again": "12345678"}, "password", "too common"),
        ({"password": "olga@plant", "again": "olga@plant"}, "password", "too similar"),
        ({"email": "no address"}, "email", "valid email"),
    ],
)
def test_what_is_refused_is_said_at_its_field(
    changed: dict[str, str], field: str, words: str
) -> None:
    answer = Client().post(PAGE, TYPED | {"token": token()} | changed)
    assert answer.status_code == 400
    assert words in " ".join(answer.context["form"].errors[field])
    assert not User.objects.exists()


def test_the_action_itself_refuses_a_second_first_person(rep: User) -> None:
    with pytest.raises(IllegalMove, match="sign in"):
        make_first_person(name="Other", email="other@plant.example", password=PASSWORD)


def test_the_command_makes_the_person_and_prints_a_link_that_works_once() -> None:
    said = told("--name", "Olga Owner", "--email", "olga@plant.example")
    link = re.search(r"https?://\S+", said)
    assert link is not None
    client = Client()
    form = client.get(urlsplit(link.group(0)).path, follow=True)
    assert "Welcome, Olga Owner" in form.content.decode()
    client.post(form.redirect_chain[-1][0], {"password1": PASSWORD, "password2": PASSWORD})
    person = User.objects.get()
    assert person.check_password(PASSWORD)
    assert roles_of(person) == {Role.OFFICE}
    again = Client().get(urlsplit(link.group(0)).path, follow=True)
    assert "has been used or has expired" in again.content.decode()


def test_the_command_asks_for_the_password_and_checks_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("orders.management.commands.start_plant.getpass", lambda _: "12345678")
    with pytest.raises(CommandError, match="too common"):
        told("--name", "Olga", "--email", "olga@plant.example", "--password")
    monkeypatch.setattr("orders.management.commands.start_plant.getpass", lambda _: PASSWORD)
    assert "http" not in told("--name", "Olga", "--email", "olga@plant.example", "--password")
    assert User.objects.get().check_password(PASSWORD)


def test_the_command_refuses_while_somebody_does_the_offices_work(office: User) -> None:
    with pytest.raises(CommandError, match="somebody of the office"):
        told("--name", "Olga", "--email", "olga@plant.example")
    office.is_active = False
    office.save()
    assert "first person" in told("--name", "Olga", "--email", "olga@plant.example")


def test_the_command_names_a_wrong_field(rep: User) -> None:
    with pytest.raises(BadInput) as refused:
        make_office_person(name="Other", email=rep.email.upper(), password=None)
    assert "email" in refused.value.fields


def test_the_command_prints_the_pages_link_only_while_there_is_nobody() -> None:
    assert PAGE in told("--page")
    UserFactory(role=Role.REP)
    with pytest.raises(CommandError, match="closed for good"):
        told("--page")
