"""A planned batch, and a database that threads really share."""

import sqlite3
from pathlib import Path

import pytest
from django.db import connection, connections

from blendshop.accounts.models import Company, User
from orders.models import Batch, StockLot
from tests.long_work.work_cases import known_kind
from tests.orders.production.charging_cases import planned_batch

__all__ = ["known_kind"]  # a fixture


@pytest.fixture
def batch(rep: User, company: Company, plant_worker: User) -> Batch:
    """Two totes of the half-slow blend, planned as one load."""
    return planned_batch(rep, company, plant_worker)


@pytest.fixture
def shared_database(lot: StockLot, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """After this every new thread's connection reaches a database that threads really share.

    ``lot`` is the lot all threads of a file reach for; it must lie there before.
    """
    if connection.vendor == "sqlite":
        path = tmp_path / "plant.sqlite3"
        copy = sqlite3.connect(path)
        connection.connection.backup(copy)
        copy.execute("PRAGMA journal_mode=WAL")  # as a plant's file is from its first day on
        copy.close()
        monkeypatch.setitem(connections.settings["default"], "NAME", str(path))
