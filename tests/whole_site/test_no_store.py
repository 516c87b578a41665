"""What a signed-in person is shown is kept by no cache: Back shows the next person none of it.

Every answer of the site is looked at where all of them are asked for, in test_permission_matrix.
"""

from collections.abc import Callable

from django.http import HttpResponse
from django.test import Client

from blendshop.accounts.models import User


def is_kept_by_no_cache(response: HttpResponse) -> bool:
    said = response.headers.get("Cache-Control", "").split(",")
    return {"no-store", "private"} <= {part.strip() for part in said}


def test_the_back_office_is_kept_by_no_cache(
    office: User, signed_in: Callable[[User], Client]
) -> None:
    client = signed_in(office)
    for path in ("", "accounts/user/", "nowhere/"):
        assert is_kept_by_no_cache(client.get(f"/back-office/{path}"))


def test_what_anybody_may_read_says_nothing_of_it(client: Client, db: None) -> None:
    assert "Cache-Control" not in client.get("/").headers
