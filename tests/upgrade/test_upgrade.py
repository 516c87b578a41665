"""A plant of an earlier version migrates with every row, and its pages and papers still come."""

import pytest
from django.core.management import call_command
from django.db import connection
from django.test import Client
from django.urls import reverse

from blendshop.accounts.models import User
from orders.models import Batch, BatchPart, Order, Paper, Quote, StockLot
from orders.papers.actions import issue_batch_record, issue_certificate
from tests.databases import own_database
from tests.upgrade.old_plant import fill, lay_out, rows_of, schema

#: What Django itself writes anew after every migration.
REWRITTEN = {"auth_group_permissions", "auth_permission", "django_content_type"}


@pytest.fixture
def upgraded(transactional_db, tmp_path):
    """What stood in the old tables before, with the database migrated since."""
    with own_database(tmp_path, "upgraded", empty=True):
        filled = fill(lay_out())
        tables = sorted(set(connection.introspection.table_names()) - REWRITTEN)
        before = rows_of(tables)
        assert sum(map(len, before.values())) > filled
        call_command("migrate", verbosity=0, interactive=False)
        yield before


def signed_in(role):
    client = Client()
    client.force_login(User.objects.get(email=f"{role}@thistleford.example"))
    return client


def test_every_row_is_kept_tables_are_those_of_a_new_plant_and_pages_still_come(upgraded, tmp_path):
    migrated_step_by_step = schema()
    with own_database(tmp_path, "new"):  # a new plant takes the squashed migrations
        assert schema() == migrated_step_by_step

    after = rows_of([table for table in upgraded if table != "django_migrations"])
    for table, rows in upgraded.items():
        for key, row in rows.items() if table in after else ():
            kept = after[table][key]
            assert {name: kept[name] for name in row} == row, table
    call_command("check_ledger", verbosity=0)

    quote = Quote.objects.exclude(order=None).get()
    order, batch, part = Order.objects.get(), Batch.objects.get(), BatchPart.objects.get()
    formulator, plant = signed_in("formulator"), signed_in("plant")
    pages = [
        (formulator, reverse("quote_list")),
        (formulator, reverse("quote_detail", args=[quote.number])),
        (formulator, reverse("order_detail", args=[order.number])),
        (plant, reverse("the_day")),
        (plant, reverse("order_board")),
        (plant, reverse("batch_detail", args=[batch.number])),
        (plant, reverse("lot_list")),
        (plant, reverse("lot_detail", args=[StockLot.objects.first().code])),
        (formulator, reverse("stock_list")),
        (formulator, reverse("blend_list")),
    ]
    for client, page in pages:
        assert client.get(page).status_code == 200, page

    old = list(Paper.objects.all())
    assert {paper.kind for paper in old} == {Paper.Kind.QUOTE, Paper.Kind.CERTIFICATE}
    for paper in old:
        answer = formulator.get(reverse("paper", args=[paper.pk]))
        assert answer.content == bytes(upgraded["orders_paper"][paper.pk]["pdf"])
    person = User.objects.get(email="formulator@thistleford.example")
    for drawn in (
        issue_certificate(part=part, acting_user=person),
        issue_batch_record(batch=batch, acting_user=person),
    ):
        assert bytes(drawn.pdf).startswith(b"%PDF")
