"""A plant in a database and a media folder of its own."""

import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from django.core.files.base import ContentFile
from django.db import connection

from blendshop.accounts.models import User
from blendshop.roles import Role
from orders.inventory.actions.lot_quality import Certificate, record_certificate
from orders.models import StockLot
from tests.databases import own_database
from tests.factories import CompanyFactory, UserFactory
from tests.orders.production.charging_cases import planned_batch, received

Rows = dict[str, list[tuple[Any, ...]]]


def all_rows() -> Rows:
    """Every row of every table, as the database sorts them by all their columns."""
    with connection.cursor() as cursor:
        return {
            table: _rows(cursor, table) for table in connection.introspection.table_names(cursor)
        }


def _rows(cursor: Any, table: str) -> list[tuple[Any, ...]]:
    cursor.execute(f'SELECT * FROM "{table}"')  # noqa: S608 - a table's own name
    return sorted(cursor.fetchall(), key=repr)


def all_files(folder: Path) -> dict[str, bytes]:
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file()
    }


@pytest.fixture
def media(settings: Any, tmp_path: Path) -> Path:
    settings.MEDIA_ROOT = tmp_path / "media"
    return tmp_path / "media"


@pytest.fixture
def own_plant(
    transactional_db: None, media: Path, tmp_path: Path
) -> Iterator[Callable[[], StockLot]]:
    """``own_plant()`` fills it: an order, its batch, and a lot with a certificate's file."""
    if connection.vendor == "postgresql" and not (
        shutil.which("pg_dump") or list(Path("/usr/lib/postgresql").glob("*/bin/pg_dump"))
    ):
        pytest.skip("PostgreSQL's client programs are not installed")

    def filled() -> StockLot:
        formulator: User = UserFactory(email="fran@plant.example", role=Role.FORMULATOR)
        rep = UserFactory(email="robin@plant.example", role=Role.REP)
        planned_batch(rep, CompanyFactory(name="Brookmeadow Lawn Care"), formulator)
        lot = received("UAN", formulator)
        record_certificate(
            lot=lot,
            certificate=Certificate(
                source="CoA 7, invented",
                figures={"N.urea": 16.0},
                file=ContentFile(b"%PDF-1.7 first", "coa.pdf"),
            ),
            acting_user=formulator,
        )
        return StockLot.objects.get(pk=lot.pk)

    with own_database(tmp_path, "backed_up"):
        yield filled
