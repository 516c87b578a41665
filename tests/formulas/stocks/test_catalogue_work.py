"""A large table of the catalogue: previewed, written and exported by a worker."""

from pathlib import Path

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from blendshop.long_work.models import LongWork
from formulas.models import BaseStock
from formulas.stocks.table.export import export_catalogue
from tests.factories import BaseStockFactory, today
from tests.jobs.queue_cases import run_due

pytestmark = pytest.mark.django_db

HEAD = "code,field,value,unit,source,mark,effective_from\n"
TWO = HEAD + "UAN,charging_rank,45,,,,\nKAC,charging_rank,46,,,,\n"


@pytest.fixture(autouse=True)
def everything_is_large(settings, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    settings.MEDIA_ROOT = tmp_path
    monkeypatch.setattr("formulas.stocks.upload_views.MOST_LINES_AT_ONCE", 1)
    monkeypatch.setattr("formulas.stocks.upload_views.MOST_STOCKS_AT_ONCE", 1)
    BaseStockFactory(code="UAN")
    BaseStockFactory(code="KAC")


@pytest.fixture
def client(formulator, signed_in) -> Client:
    return signed_in(formulator)


def upload(client: Client, text: str) -> str:
    """The address of the preview that a worker made."""
    table = SimpleUploadedFile("table.csv", text.encode())
    begun = client.post(reverse("stock_upload"), {"table": table})
    run_due()
    address: str = client.get(begun.headers["Location"]).headers["Location"]
    return address


def test_a_large_table_is_previewed_by_a_worker_and_written_by_one(client):
    address = upload(client, TWO)
    page = client.get(address)
    assert "0 new, 2 changed, 0 as before. Nothing is written yet." in page.content.decode()
    begun = client.post(address, {"digest": page.context["preview"].digest})
    twice = client.post(address, {"digest": page.context["preview"].digest})
    assert twice.headers["Location"] == begun.headers["Location"]
    run_due()
    said = client.get(begun.headers["Location"]).content.decode()
    assert "Catalogue updated: 0 new, 2 changed, 0 as before." in said
    assert BaseStock.objects.get(code="UAN").charging_rank == 45


def test_a_cost_that_moves_far_is_asked_about_in_the_preview_of_a_worker_too(client):
    stock = BaseStock.objects.get(code="UAN")
    dear = stock.cost_on(today()).amount * 2
    line = f"UAN,cost,{dear},lb,,,{today().isoformat()}\n"
    address = upload(client, f"{TWO}{line}")
    page = client.get(address)
    preview = page.context["preview"]
    assert "+100.0 %" in page.content.decode()
    said = []
    for sure in ("", preview.sure_of):
        begun = client.post(address, {"digest": preview.digest, "sure": sure})
        run_due()
        said.append(client.get(begun.headers["Location"]).content.decode())
    assert "send them again with sure set to" in said[0]
    assert "Catalogue updated" in said[1]
    assert stock.costs.first().amount == dear


def test_what_changed_since_the_preview_is_not_written(client):
    address = upload(client, TWO)
    digest = client.get(address).context["preview"].digest
    BaseStock.objects.filter(code="UAN").update(charging_rank=44)
    begun = client.post(address, {"digest": digest})
    run_due()
    said = client.get(begun.headers["Location"]).content.decode()
    assert "The catalogue changed since the preview" in said
    assert BaseStock.objects.get(code="KAC").charging_rank != 46


def test_errors_of_a_large_table_name_their_lines_page_by_page(client, monkeypatch):
    monkeypatch.setattr("formulas.stocks.upload_views._LINES_A_PAGE", 1)
    address = upload(client, HEAD + "UAN,short,maybe,,,,\nKAC,colour,red,,,,\n")
    first = client.get(address)
    assert [error.line for error in first.context["page"]] == [2]
    assert "maybe is neither yes nor no." in first.content.decode()
    assert "Confirm" not in first.content.decode()
    assert [error.line for error in client.get(address, {"page": 2}).context["page"]] == [3]


def test_what_is_no_table_is_refused_at_once(client):
    table = SimpleUploadedFile("table.csv", b"code,field\nUAN,short\nKAC,short\n")
    refused = client.post(reverse("stock_upload"), {"table": table})
    assert refused.status_code == 400
    assert "The header lacks the column value." in refused.content.decode()
    assert not LongWork.objects.exists()


def test_nobody_else_sees_the_preview(client, office, signed_in):
    address = upload(client, TWO)
    assert signed_in(office).get(address).status_code == 404  # it uploads costs, each its own
    assert client.get(reverse("stock_upload_preview", args=[0])).status_code == 404


def test_a_large_catalogue_is_exported_by_a_worker(client):
    assert "The catalogue has 2 stocks." in client.get(reverse("stock_export")).text
    assert not LongWork.objects.exists()  # who only reads an address begins nothing
    begun = client.post(reverse("stock_export"))
    run_due()
    assert "The file is ready." in client.get(begun.headers["Location"]).content.decode()
    saved = client.get(f"{begun.headers['Location']}download/")
    assert saved.content.decode("utf-8-sig") == export_catalogue(today())
