"""Safety data sheets: what is taken in, which version is found, by whom."""

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from django.utils import timezone

from orders.models import Order, SafetySheet
from orders.portal.lot_papers import sheets_of_parts
from orders.safety_sheets.actions import put_in_sheet
from orders.safety_sheets.forms import LARGEST_MB

SHEET = b"%PDF-1.7 a sheet"


def _sent(content: bytes = SHEET, **more: str) -> dict[str, object]:
    file = SimpleUploadedFile("../sds.html", content, content_type="text/html")
    return {"file": file, "revised_on": timezone.localdate().isoformat(), **more}


@pytest.mark.parametrize(
    ("content", "day", "told"),
    [
        (b"<html><script>", "2026-01-02", "neither a PDF"),
        (b"%PDF-" + b" " * LARGEST_MB * 1024 * 1024, "2026-01-02", "larger than 8 MB"),
        (SHEET, "2199-01-01", "a day to come"),
        (SHEET, "", "required"),
    ],
)
def test_what_is_no_sheet_is_refused(revision, formulator, signed_in, content, day, told):
    url = reverse("blend_sheets", args=[revision.blend_id])
    answer = signed_in(formulator).post(url, _sent(content, revised_on=day))
    assert answer.status_code == 400
    assert told in answer.content.decode()
    assert not SafetySheet.objects.exists()


def test_only_formulator_and_office_put_one_in_and_the_same_file_once(
    revision, formulator, rep, plant_worker, signed_in
):
    url = reverse("stock_sheets", args=[revision.lines.first().stock.code])
    for person in (rep, plant_worker):
        assert signed_in(person).post(url, _sent()).status_code == 403
    client = signed_in(formulator)
    client.post(url, _sent())
    again = client.post(url, _sent())
    assert "there already, as version 1" in again.content.decode()
    client.post(url, _sent(SHEET + b" of today"))
    versions = SafetySheet.objects.order_by("pk").values_list("version", flat=True)
    assert list(versions) == [1, 2]
    assert SafetySheet.objects.newest().get().version == 2


def test_who_bought_the_blend_finds_its_newest_sheet_and_nobody_else(
    batch, order, revision, formulator, company, customer, stranger, signed_in
):
    def put_in(of, pdf=SHEET):
        day = timezone.localdate()
        return put_in_sheet(acting_user=formulator, of=of, pdf=pdf, revised_on=day)

    put_in(revision.blend)
    sheet, of_stock = put_in(revision.blend, SHEET + b" 2"), put_in(revision.lines.first().stock)
    part = batch.parts.get()
    assert sheets_of_parts([part], customer)[part.pk] == (sheet,)
    url = reverse("safety_sheet", args=[sheet.pk])
    answer = signed_in(customer).get(url)
    assert answer.content == SHEET + b" 2"
    assert answer["Content-Type"] == "application/pdf"
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert answer["Content-Disposition"].startswith("attachment")
    assert signed_in(stranger).get(url).status_code == 404
    # A sheet of a stock says that the stock is in the blend.
    assert signed_in(customer).get(reverse("safety_sheet", args=[of_stock.pk])).status_code == 404
    company.sees_recipe = True
    company.save()
    customer.refresh_from_db()
    assert set(sheets_of_parts([part], customer)[part.pk]) == {sheet, of_stock}
    Order.objects.update(status="cancelled")
    assert signed_in(customer).get(url).status_code == 404
