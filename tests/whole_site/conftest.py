"""What the rules about pages share."""

from collections.abc import Iterator

import pytest
from django.db import transaction
from django.test import Client, override_settings
from pytest_django import DjangoDbBlocker

from tests.whole_site.demo_world import clients, load_one_of_everything


@pytest.fixture(scope="module")
def world(
    django_db_setup: None,
    django_db_blocker: DjangoDbBlocker,
    tmp_path_factory: pytest.TempPathFactory,
) -> Iterator[dict[str, Client]]:
    """The demo, loaded once for a file, and a signed-in client for each column."""
    media = override_settings(MEDIA_ROOT=tmp_path_factory.mktemp("media"))
    with media, django_db_blocker.unblock(), transaction.atomic():
        load_one_of_everything()
        yield clients()
        transaction.set_rollback(True)
