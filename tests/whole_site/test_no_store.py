"""What a signed-in person is shown is kept by no cache: Back shows the next person none of it."""

from django.db import transaction
from django.test import Client
from django.urls import reverse

from tests.whole_site.demo_world import route_arguments
from tests.whole_site.test_permission_matrix import COLUMNS, TABLE

#: Answered before anybody is looked at.
PROBED = {"alive", "ready", "metrics"}


def directives(response: object) -> set[str]:
    return {part.strip() for part in response.headers.get("Cache-Control", "").split(",")}


def test_every_answer_to_a_signed_in_person_says_no_store(world: dict[str, Client]) -> None:
    kept = []
    for name, (method, letters) in TABLE.items():
        if name in PROBED:
            continue
        column = next(
            (
                each
                for each, letter in zip(COLUMNS, letters, strict=True)
                if each != "nobody" and letter == "y"
            ),
            "office",
        )
        with transaction.atomic():
            response = getattr(world[column], method)(reverse(name, kwargs=route_arguments(name)))
            transaction.set_rollback(True)
        if not {"no-store", "private"} <= directives(response):
            kept.append(f"{name}: {response.headers.get('Cache-Control')}")
    assert kept == []


def test_the_back_office_too(world: dict[str, Client]) -> None:
    for path in ("", "accounts/user/", "nowhere/"):
        assert "no-store" in directives(world["office"].get(f"/back-office/{path}"))


def test_what_anybody_may_read_says_nothing_of_it(world: dict[str, Client]) -> None:
    assert "no-store" not in directives(world["nobody"].get(reverse("alive")))
