"""A process keeps the catalogue for as long as nobody changed it, and not one write longer."""

import re
import threading
from datetime import date
from decimal import Decimal

import pytest
from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext

from formulas.catalogue_version.keeping import KeptByVersion, version
from formulas.catalogue_version.triggers import TABLES, make_triggers
from formulas.engine.blend.stock_table import in_code_order, stock_table
from formulas.engine_bridge import load_catalogue
from formulas.models import BaseStock, CompatibilityRule, StockCost, Trait
from formulas.stocks.actions.stocks import mark_short, record_cost
from tests.factories import CompatibilityRuleFactory, make_simple_catalogue
from tests.formulas.stocks.sure import surely

TODAY = date(2026, 6, 1)


@pytest.fixture
def catalogue(db: None) -> None:
    make_simple_catalogue()
    CompatibilityRuleFactory()


def test_every_table_that_a_catalogue_is_read_from_is_watched(catalogue: None) -> None:
    with CaptureQueriesContext(connection) as asked:
        load_catalogue(TODAY)
    read = {
        table
        for query in asked.captured_queries
        for table in re.findall(r'(?:FROM|JOIN) "(\w+)"', query["sql"])
    }
    assert read - {"formulas_catalogueversion"} == set(TABLES)


@pytest.mark.parametrize("table", TABLES)
def test_every_write_gives_another_version_whatever_road_it_takes(
    catalogue: None, table: str
) -> None:
    """The database itself watches: no model, action or signal is passed here."""
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT * FROM {table}")  # noqa: S608 - our own names
        columns = [column[0] for column in cursor.description]
        row = cursor.fetchone()
        seen = [version()]
        key = [row[columns.index("id")]]
        cursor.execute(f"UPDATE {table} SET id = id WHERE id = %s", key)  # noqa: S608
        seen.append(version())
        cursor.execute(f"DELETE FROM {table} WHERE id = %s", key)  # noqa: S608
        seen.append(version())
        places = ", ".join(["%s"] * len(row))
        cursor.execute(f"INSERT INTO {table} VALUES ({places})", row)  # noqa: S608
        seen.append(version())
    assert None not in seen
    assert len(set(seen)) == 4


def test_actions_and_bulk_writes_are_seen_at_the_next_reading(catalogue, formulator) -> None:
    stock = BaseStock.objects.get(code="UAN")
    before = load_catalogue(TODAY)
    assert load_catalogue(TODAY) is before
    surely(
        record_cost,
        acting_user=formulator,
        stock=stock,
        amount=Decimal("0.25"),
        unit="lb",
        effective_from=TODAY,
    )
    assert load_catalogue(TODAY).cost_per_lb["UAN"] == Decimal("0.25")
    mark_short(acting_user=formulator, stock=stock, short=True)
    assert "UAN" in load_catalogue(TODAY).left_out
    BaseStock.objects.filter(pk=stock.pk).update(short=False, name="another name")
    assert load_catalogue(TODAY).names["UAN"] == "another name"
    Trait.objects.filter(code="calcium").update(name="Lime")
    assert "lime" in {rule.name_a for rule in load_catalogue(TODAY).rules}
    CompatibilityRule.objects.all().delete()
    assert load_catalogue(TODAY).rules == ()


def test_a_cost_comes_into_force_on_its_day_though_nobody_writes(catalogue: None) -> None:
    stock = BaseStock.objects.get(code="UAN")
    StockCost.objects.create(
        stock=stock, amount=Decimal("0.30"), unit="lb", effective_from=date(2026, 6, 2)
    )
    assert load_catalogue(TODAY).cost_per_lb["UAN"] == Decimal("0.18")
    assert load_catalogue(date(2026, 6, 2)).cost_per_lb["UAN"] == Decimal("0.30")
    assert load_catalogue(TODAY).cost_per_lb["UAN"] == Decimal("0.18")


def test_what_is_rolled_back_was_never_kept_for_others(catalogue: None) -> None:
    before = load_catalogue(TODAY)
    with transaction.atomic():
        BaseStock.objects.filter(code="UAN").update(name="never")
        assert load_catalogue(TODAY).names["UAN"] == "never"
        transaction.set_rollback(True)
    assert load_catalogue(TODAY) is before
    # The next change is not mistaken for the one that never was.
    BaseStock.objects.filter(code="UAN").update(name="for good")
    assert load_catalogue(TODAY).names["UAN"] == "for good"


def test_a_change_in_the_middle_of_a_reading_is_not_kept_under_the_version_before(
    catalogue: None,
) -> None:
    read: list[str] = []

    def reading(code: str) -> str:
        name = BaseStock.objects.get(code=code).name
        if not read:
            BaseStock.objects.filter(code=code).update(name="changed meanwhile")
        read.append(name)
        return name

    kept = KeptByVersion(reading)
    assert kept("UAN") == "changed meanwhile"
    assert kept("UAN") == "changed meanwhile"
    assert len(read) == 2


def test_all_threads_share_one_catalogue(catalogue: None) -> None:
    """Two that read at once end with the same object, so its arrays are made once."""
    both_read = threading.Barrier(2)
    seen: list[object] = []
    kept: KeptByVersion[str, object] = KeptByVersion(lambda _key: object())
    token = version()
    assert token is not None

    def read() -> None:
        value = object()
        both_read.wait(timeout=30)
        seen.append(kept._keep((token, "a"), value))

    threads = [threading.Thread(target=read) for _ in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert seen[0] is seen[1]
    stocks = load_catalogue(TODAY).stocks
    assert stock_table(in_code_order(stocks)) is stock_table(
        in_code_order(load_catalogue(TODAY).stocks)
    )


def test_what_is_shared_cannot_be_changed(catalogue: None) -> None:
    with pytest.raises(TypeError):
        load_catalogue(TODAY).cost_per_lb["UAN"] = Decimal(0)  # type: ignore[index]


def test_a_migration_that_loses_triggers_gets_them_back_and_a_new_version(catalogue: None) -> None:
    """On SQLite a changed table is made anew, without its triggers."""
    seen = version()
    make_triggers(using="default")
    assert version() == seen
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute("DROP TRIGGER catalogue_changed ON formulas_trait")
        else:
            cursor.execute("DROP TRIGGER formulas_trait_catalogue_changed_update")
    Trait.objects.update(description="not seen")
    assert version() == seen
    make_triggers(using="default")
    assert version() != seen
    seen = version()
    Trait.objects.update(description="seen")
    assert version() != seen
