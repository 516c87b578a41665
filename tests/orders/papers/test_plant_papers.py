"""The plant's papers: what they say, that they are snapshots, and who may read them."""

from dataclasses import replace
from decimal import Decimal
from io import BytesIO

import pytest
from django.urls import reverse
from django.utils.translation import override
from pypdf import PdfReader

from blendshop.accounts.models import Company
from blendshop.documents.text import MissingGlyphWarning
from blendshop.errors import IllegalMove
from blendshop.long_work.models import LongWork
from orders.models import BatchPart, Order, Paper, StockLot
from orders.papers.actions import (
    issue_batch_record,
    issue_certificate,
    issue_package_labels,
    issue_packing_list,
    issue_pick_list,
)
from orders.papers.gather_packing_list import TRANSPORT
from orders.portal.stored_papers import differences
from orders.production.actions.batches import release_batch
from orders.production.actions.charging import charge_lot, reverse_charge
from orders.production.actions.packaging import close_batch, fill_packages
from tests.jobs.queue_cases import run_due
from tests.orders.planning.plant_cases import freeze_otherwise
from tests.orders.production.charging_cases import (
    charge_all,
    charged_and_made,
    lots_of,
    new_key,
    read_density,
    received,
)


@pytest.fixture
def filled(batch, plant_worker):
    """Charged, read with a laboratory's nitrogen, released, filled into two totes."""
    charged_and_made(batch, plant_worker)
    read_density(
        batch, plant_worker, ph=7.1, lab_analysis={"N": 24.3}, lab_source="Field Lab, report 7"
    )
    release_batch(batch=batch, acting_user=plant_worker)
    fill_packages(
        part=batch.parts.get(),
        net_lb=[Decimal(2750), Decimal("2749.5")],
        key=new_key(),
        acting_user=plant_worker,
    )
    return batch


def text_of(paper):
    reader = PdfReader(BytesIO(bytes(paper.pdf)))
    return " ".join(" ".join(page.extract_text() for page in reader.pages).split())


def test_the_pick_list_names_each_stock_and_its_lots_first_to_expire_first(batch, plant_worker):
    lots = lots_of(batch, plant_worker)
    soon = received("UAN", plant_worker)
    StockLot.objects.filter(pk=soon.pk).update(expires_on="2099-01-01")
    text = text_of(issue_pick_list(batch=batch, acting_user=plant_worker))
    assert text.index(soon.code) < text.index(lots["UAN"].code)
    assert "from the main" in text
    for step in batch.load_plan.steps:
        assert step.name in text


def test_the_pick_list_says_when_no_usable_lot_is_there(batch, plant_worker):
    assert "no usable lot on hand" in text_of(
        issue_pick_list(batch=batch, acting_user=plant_worker)
    )


def test_the_record_holds_plan_actual_lots_readings_and_who(batch, plant_worker):
    lots = lots_of(batch, plant_worker)
    first = batch.load_plan.steps[0]
    wrong = charge_lot(
        batch=batch, step=1, lot=None, mass_lb=7, key=new_key(), acting_user=plant_worker
    )
    reverse_charge(charge=wrong, why="typed 7", key=new_key(), acting_user=plant_worker)
    charge_all(batch, lots, plant_worker, off_lb={"KAC": 40})
    text = text_of(issue_batch_record(batch=batch, acting_user=plant_worker))
    assert f"{first.weight_lb:,.0f}" in text
    assert "40 lb over" in text
    assert "Reversed: typed 7" in text
    assert lots["KAC"].code in text
    assert "Pat Plant" in text
    assert "meets its guarantee" in text
    assert "$" not in text


def test_a_record_is_issued_anew_when_something_was_added_and_names_the_old(batch, plant_worker):
    charged_and_made(batch, plant_worker)
    first = issue_batch_record(batch=batch, acting_user=plant_worker)
    assert issue_batch_record(batch=batch, acting_user=plant_worker) == first
    read_density(batch, plant_worker)
    second = issue_batch_record(batch=batch, acting_user=plant_worker)
    assert second.replaces == first
    assert "inside its window" in text_of(second)


def test_a_closed_record_shows_packages_and_balance(filled, plant_worker):
    close_batch(batch=filled, why="left in the hose", key=new_key(), acting_user=plant_worker)
    text = text_of(issue_batch_record(batch=filled, acting_user=plant_worker))
    assert f"{filled.number}-02" in text
    assert "left in the hose" in text


def test_the_certificate_tells_a_laboratory_s_figure_from_a_calculated_one(filled, plant_worker):
    Order.objects.update(customer_reference="PO 4711")
    text = text_of(issue_certificate(part=filled.parts.get(), acting_user=plant_worker))
    assert "PO 4711" in text
    assert "24.30 %" in text
    assert "Field Lab, report 7" in text
    assert "calculated" in text
    assert "not laboratory results" in text
    assert "7.1" in text
    assert filled.number in text


def test_the_certificate_of_a_held_batch_tells_who_let_it_go_and_not_why(
    batch, plant_worker, formulator
):
    charged_and_made(batch, plant_worker)
    read_density(batch, plant_worker, appearance="hazy")
    release_batch(
        batch=batch,
        acting_user=formulator,
        why="Haze clears on warming.",
        reading_is_wrong=False,
    )
    fill_packages(
        part=batch.parts.get(), net_lb=[Decimal(9)], key=new_key(), acting_user=plant_worker
    )
    text = text_of(issue_certificate(part=batch.parts.get(), acting_user=plant_worker))
    assert "by Fran Form" in text
    assert "hazy or cloudy" in text
    assert "clears on warming" not in text
    assert "Filled" not in text
    record = text_of(issue_batch_record(batch=batch, acting_user=plant_worker))
    assert "Haze clears on warming." in record


def test_no_certificate_before_the_release_or_without_charges(batch, plant_worker):
    with pytest.raises(IllegalMove, match="not released"):
        issue_certificate(part=batch.parts.get(), acting_user=plant_worker)
    batch.status = "released"
    batch.save()
    with pytest.raises(IllegalMove, match="printed ticket"):
        issue_certificate(part=batch.parts.get(), acting_user=plant_worker)


def test_the_packing_list_adds_up_and_leaves_transport_to_sds_and_shipper(filled, plant_worker):
    order = filled.parts.get().order_line.order
    text = text_of(issue_packing_list(order=order, acting_user=plant_worker))
    assert f"{filled.number}-01" in text
    assert "5,499.5" in text  # 2,750 and 2,749.5
    assert "5,759.5" in text  # and two totes of 130 lb
    assert TRANSPORT in text
    assert "$" not in text


def test_papers_follow_the_company_s_choice_at_issue_with_the_english_beside(
    filled, plant_worker, customer, client
):
    part = filled.parts.get()
    order, company = part.order_line.order, part.order_line.order.company
    before = issue_certificate(part=part, acting_user=plant_worker)
    Company.objects.filter(pk=company.pk).update(language="es", units="metric")
    part, order = BatchPart.objects.get(pk=part.pk), Order.objects.get(pk=order.pk)
    certificate = issue_certificate(part=part, acting_user=plant_worker)
    assert certificate.replaces == before
    packing = issue_packing_list(order=order, acting_user=plant_worker)
    assert "2,494.5" in text_of(packing)  # 5,499.5 lb x 0.45359237 (NIST SP 811, appendix B)
    assert " kg/L" in text_of(certificate)
    with override("es"):
        assert [*differences(certificate), *differences(packing)] == []
    client.force_login(customer)
    page = reverse("part_page", args=[filled.number, part.position])
    delivered = client.get(page).content.decode()
    client.force_login(plant_worker)
    for paper, figure in ((certificate, " lb/gal"), (packing, "5,499.5")):
        address = reverse("paper", args=[paper.pk])
        assert client.get(address).content == bytes(paper.pdf)
        assert f"{address}?lang=en" in delivered
        english = client.get(address, {"lang": "en"}).content
        pages = PdfReader(BytesIO(english)).pages
        assert figure in " ".join(page.extract_text() for page in pages)


def test_the_packing_list_says_the_hazard_class_of_what_it_lists(filled, plant_worker):
    # 0.02 % B is 0.11 % boric acid: 29 CFR 1910.1200 App. A, Table A.7.1.
    steps = tuple(
        replace(step, analysis={**step.analysis, "B": 0.02}) for step in filled.load_plan.steps
    )
    freeze_otherwise(filled, steps=steps)
    order = filled.parts.get().order_line.order
    text = text_of(issue_packing_list(order=order, acting_user=plant_worker))
    assert "DANGER: may damage fertility or the unborn child (H360)." in text


def test_package_labels_carry_every_serial(filled, plant_worker):
    text = text_of(issue_package_labels(batch=filled, acting_user=plant_worker))
    assert text.count(f"{filled.number}-0") == 2
    assert "Net 2,749.5 lb" in text


def test_a_worker_draws_the_labels_of_very_many_packages(
    filled, plant_worker, signed_in, monkeypatch
):
    monkeypatch.setattr("orders.papers.label_work.MOST_LABELS_AT_ONCE", 1)
    client, url = signed_in(plant_worker), reverse("batch_package_labels_pdf", args=[filled.number])
    assert f"Batch {filled.number} has 2 package labels." in client.get(url).text
    assert not LongWork.objects.exists()  # who only reads an address begins nothing
    begun = client.post(url)
    run_due()
    led = client.get(begun["Location"])
    paper = filled.papers.get(kind=Paper.Kind.PACKAGE_LABELS)
    assert led["Location"] == reverse("paper", args=[paper.pk])
    assert paper.issued_by == plant_worker
    assert client.get(url)["Location"] == begun["Location"]  # they would print the same


def test_nothing_is_listed_or_labelled_before_a_package_is_filled(batch, plant_worker):
    with pytest.raises(IllegalMove):
        issue_packing_list(order=batch.parts.get().order_line.order, acting_user=plant_worker)
    with pytest.raises(IllegalMove):
        issue_package_labels(batch=batch, acting_user=plant_worker)


def test_every_plant_paper_draws_the_same_bytes_from_its_snapshot(filled, plant_worker):
    papers = [
        issue_pick_list(batch=filled, acting_user=plant_worker),
        issue_batch_record(batch=filled, acting_user=plant_worker),
        issue_certificate(part=filled.parts.get(), acting_user=plant_worker),
        issue_package_labels(batch=filled, acting_user=plant_worker),
        issue_packing_list(order=filled.parts.get().order_line.order, acting_user=plant_worker),
    ]
    assert {paper.kind for paper in papers} == {
        "pick_list", "batch_record", "certificate", "package_labels", "packing_list",
    }  # fmt: skip
    for paper in papers:
        stored = Paper.objects.get(pk=paper.pk)
        assert differences(stored) == []


@pytest.mark.filterwarnings(f"ignore::{MissingGlyphWarning.__module__}.MissingGlyphWarning")
def test_hostile_text_is_printed_and_not_obeyed(filled, plant_worker):
    part = filled.parts.get()
    part.delivery = replace(part.consignment, product_name="<b>Bold</b> & <script>").to_json()
    text = text_of(issue_certificate(part=part, acting_user=plant_worker))
    assert "<b>Bold</b> & <script>" in text


def test_a_customer_reads_its_own_certificate_and_packing_list_and_no_record(
    filled, plant_worker, customer, stranger
):
    certificate = issue_certificate(part=filled.parts.get(), acting_user=plant_worker)
    packing = issue_packing_list(
        order=filled.parts.get().order_line.order, acting_user=plant_worker
    )
    issue_batch_record(batch=filled, acting_user=plant_worker)
    assert set(Paper.objects.visible_to(customer)) == {certificate, packing}
    assert not Paper.objects.visible_to(stranger).exists()


def test_the_customer_finds_both_on_its_order_s_page(filled, plant_worker, customer, signed_in):
    certificate = issue_certificate(part=filled.parts.get(), acting_user=plant_worker)
    packing = issue_packing_list(
        order=filled.parts.get().order_line.order, acting_user=plant_worker
    )
    record = issue_batch_record(batch=filled, acting_user=plant_worker)
    client = signed_in(customer)
    page = client.get(f"/orders/{filled.parts.get().order_line.order.number}/").content.decode()
    for paper in (certificate, packing):
        assert f"/papers/{paper.pk}.pdf" in page
        assert client.get(f"/papers/{paper.pk}.pdf").status_code == 200
    assert f"/papers/{record.pk}.pdf" not in page
    assert client.get(f"/papers/{record.pk}.pdf").status_code == 404


def test_the_pages_serve_the_papers(filled, signed_in, plant_worker):
    client = signed_in(plant_worker)
    order = filled.parts.get().order_line.order.number
    for path in (
        f"/batches/{filled.number}/pick-list.pdf",
        f"/batches/{filled.number}/record.pdf",
        f"/batches/{filled.number}/parts/1/certificate.pdf",
        f"/batches/{filled.number}/package-labels.pdf",
        f"/orders/{order}/packing-list.pdf",
    ):
        answer = client.get(path)
        assert answer.status_code == 200
        assert answer["Content-Type"] == "application/pdf"
