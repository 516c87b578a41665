"""The demo, loaded once a worker."""

from typing import Final

from django.test import override_settings
from django.utils import timezone

from orders.demo.actions import load_demo
from tests.remembered_rows import RememberedRows


def _load() -> None:
    with override_settings(DEBUG=True):
        load_demo(today=timezone.localdate())


_DEMO: Final = RememberedRows(
    _load, apps=frozenset({"account", "accounts", "formulas", "orders", "outbox"})
)


def put_in_demo() -> None:
    """What ``manage.py load_demo`` puts into an empty database."""
    _DEMO()
