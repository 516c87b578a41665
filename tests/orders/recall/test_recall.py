"""A recall: everything it reaches through heels, held at once; a letter each; who was told when."""

import io
from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from pypdf import PdfReader

from blendshop.accounts.models import Company
from blendshop.errors import BadInput, IllegalMove, NotAllowed
from blendshop.immutable import WrittenOnce
from blendshop.roles import Role
from orders.inventory.actions.lot_quality import release_lot
from orders.models import Batch, PackageSerial, Paper, Recall, StockLot, Tank, ToldOfRecall
from orders.ordering.actions import mark_shipped
from orders.planning.actions.planning import plan_batches
from orders.portal.stored_papers import differences
from orders.production.actions.batches import mark_made, release_batch
from orders.production.actions.packaging import fill_packages
from orders.recall.actions import (
    close_recall,
    free_all,
    hold_all,
    issue_recall_letter,
    open_recall,
    tell,
    write_customer_reason,
)
from orders.recall.affected import affected
from orders.recall.letter_view import mail_text, recall_letter_view
from tests.factories import CompanyFactory, UserFactory
from tests.orders.inventory.test_trace_heels import HEEL_LB, Row
from tests.orders.labels.approvals import approve_labels, label_reader
from tests.orders.planning.plant_cases import placed_order
from tests.orders.production.charging_cases import charge_all, lots_of, new_key, read_density
from tests.remembered_rows import RememberedRows

_LABELLED = RememberedRows(approve_labels)

WORDS = "The product may burn turf at the usual rate."


class Plant(Row):
    """Two batches one on the heel of the other; the first is shipped, the second is here."""

    def __init__(self, rep, worker):
        super().__init__(rep, worker)
        self.first, self.lots = self.make("Customer A")
        self.second, _ = self.make("Customer B")
        self.lot = next(iter(self.lots.values()))
        self.orders = [batch.parts.get().order_line.order for batch in (self.first, self.second)]
        reader = label_reader()
        for order in self.orders:
            _LABELLED(order, reader)
        mark_shipped(order=self.orders[0], acting_user=worker)


@pytest.fixture
def plant(rep, plant_worker):
    return Plant(rep, plant_worker)


@pytest.fixture
def recall(plant, formulator):
    return open_recall(
        source=plant.lot.code, reason="Supplier Nordwind sent the wrong acid.",
        customer_reason=WORDS, acting_user=formulator,
    )  # fmt: skip


def charged_lb(batch):
    return sum(charge.mass_lb for charge in batch.charges.all())


def text_of(paper):
    pages = PdfReader(io.BytesIO(bytes(paper.pdf))).pages
    return " ".join(" ".join(page.extract_text() for page in pages).split())


def test_a_lot_reaches_the_batch_on_the_heel_with_its_pounds_and_share(plant):
    """The share is checked by hand: pounds of the lot charged, and what of them the heel took."""
    found = affected(plant.lot.code)
    first, second = found.batches
    charged = sum(-m.mass_lb for m in plant.lot.movements.filter(batch=plant.first))
    all_first = charged_lb(plant.first)
    assert first.lb == charged
    assert first.share_pct == pytest.approx(float(100 * charged / all_first))
    assert float(second.lb) == pytest.approx(HEEL_LB * float(charged / all_first), rel=1e-4)
    all_second = float(charged_lb(plant.second)) + HEEL_LB
    assert second.share_pct == pytest.approx(100 * float(second.lb) / all_second, rel=1e-4)


def test_what_left_stands_with_its_customer_and_what_is_here_apart(plant):
    found = affected(plant.lot.code)
    assert [each.company.name for each in found.customers] == ["Customer A"]
    (gone,) = found.customers[0].goods
    serials = PackageSerial.objects.filter(part__batch=plant.first)
    assert gone.serials == tuple(serials.values_list("serial", "net_lb"))
    assert gone.shipped_on == timezone.localdate()
    assert [each.batch for each in found.here] == [plant.second]
    assert plant.lot.refresh_from_db() is None
    assert [lot.code for lot in found.lots_here] == [plant.lot.code]
    assert {held.batch for held in found.tanks} == {plant.first.number, plant.second.number}


def test_a_batch_and_a_package_reach_what_was_made_on_their_heel_and_not_their_sources(plant):
    serial = PackageSerial.objects.get(part__batch=plant.first).serial
    for source in (plant.first.number, serial, plant.first.number.lower()):
        found = affected(source)
        assert found.batch_ids == {plant.first.pk, plant.second.pk}
        assert found.lots == ()
    assert affected(plant.second.number).batch_ids == {plant.second.pk}


def test_one_action_holds_lots_and_stops_what_is_here_also_on_a_heel(plant, recall, office):
    hold_all(recall=recall, acting_user=office)
    plant.lot.refresh_from_db()
    assert plant.lot.state == StockLot.State.HELD
    told = recall.events.filter(why__startswith="Held what").values_list("why", flat=True)
    assert list(told) == ["Held what was not held yet: 1 lot and 2 batches."]
    with pytest.raises(IllegalMove, match=f"Recall {recall.number} holds it"):
        mark_shipped(order=plant.orders[1], acting_user=plant.worker)
    plant.orders[0].refresh_from_db()
    assert plant.orders[0].status == "shipped"
    assert Batch.objects.get(pk=plant.second.pk).status == "released"


def test_a_batch_begun_later_on_the_heel_of_a_held_one_is_stopped_as_well(plant, formulator):
    recall = open_recall(source=plant.first.number, reason="Cloudy.", acting_user=formulator)
    recall.held.create(batch=plant.first)
    with pytest.raises(IllegalMove, match=recall.number):
        mark_shipped(order=plant.orders[1], acting_user=plant.worker)


def test_closing_frees_nothing_and_freeing_is_the_formulators(plant, recall, office, formulator):
    hold_all(recall=recall, acting_user=office)
    close_recall(recall=recall, why="Everybody is told.", acting_user=office)
    with pytest.raises(IllegalMove, match=recall.number):
        mark_shipped(order=plant.orders[1], acting_user=plant.worker)
    with pytest.raises(NotAllowed):
        free_all(recall=recall, why="Tested.", acting_user=office)
    free_all(recall=recall, why="Tested.", acting_user=formulator)
    # The lots are freed one by one; what holds something of one waits for it.
    lot = StockLot.objects.get(pk=plant.lot.pk)
    assert lot.state == StockLot.State.HELD
    with pytest.raises(IllegalMove, match=lot.code):
        mark_shipped(order=plant.orders[1], acting_user=plant.worker)
    release_lot(lot=lot, why="Tested.", acting_user=formulator)
    mark_shipped(order=plant.orders[1], acting_user=plant.worker)


def test_the_letter_names_its_own_goods_and_no_internal_reason(plant, recall, office):
    mark_shipped(order=plant.orders[1], acting_user=plant.worker)
    found = {each.company.name: each for each in affected(plant.lot.code).customers}
    company = found["Customer A"].company
    paper = issue_recall_letter(recall=recall, company=company, acting_user=office)
    text = text_of(paper)
    serial = PackageSerial.objects.get(part__batch=plant.first)
    for told in (WORDS, serial.serial, plant.first.number, "Stop using", "Set it aside", "Call us"):
        assert told in text
    for secret in ("Nordwind", "Customer B", plant.lot.code, plant.second.number):
        assert secret not in text
    assert issue_recall_letter(recall=recall, company=company, acting_user=office) == paper
    assert differences(paper) == []
    mail = mail_text(recall_letter_view(recall, found["Customer A"]))
    assert serial.serial in mail
    assert WORDS in mail
    assert "Nordwind" not in mail


def test_a_letter_is_in_the_customer_s_units_with_the_english_beside(plant, recall, office, client):
    Company.objects.filter(pk=plant.orders[0].company_id).update(language="es", units="metric")
    company = Company.objects.get(pk=plant.orders[0].company_id)
    paper = issue_recall_letter(recall=recall, company=company, acting_user=office)
    serial = PackageSerial.objects.get(part__batch=plant.first)
    kilograms = f"{float(serial.net_lb) * 0.45359237:,.1f} kg"  # NIST SP 811, appendix B
    assert kilograms in text_of(paper)
    assert differences(paper) == []
    client.force_login(office)
    address = reverse("recall_letter_pdf", args=[recall.number, company.pk])
    assert client.get(address).content == bytes(paper.pdf)
    english = PdfReader(io.BytesIO(client.get(address, {"lang": "en"}).content)).pages[0]
    assert f"{serial.net_lb.normalize():,f} lb" in " ".join(english.extract_text().split())


def test_no_letter_without_a_formulators_words(plant, office, formulator):
    recall = open_recall(source=plant.lot.code, reason="Cloudy.", acting_user=office)
    company = plant.orders[0].company
    with pytest.raises(IllegalMove, match="no words for customers"):
        issue_recall_letter(recall=recall, company=company, acting_user=office)
    with pytest.raises(NotAllowed):
        write_customer_reason(recall=recall, customer_reason=WORDS, acting_user=office)
    write_customer_reason(recall=recall, customer_reason=WORDS, acting_user=formulator)
    assert issue_recall_letter(recall=recall, company=company, acting_user=office)
    with pytest.raises(IllegalMove, match="Nothing of"):
        issue_recall_letter(recall=recall, company=plant.orders[1].company, acting_user=office)


def test_telling_is_written_once_and_never_before_it_happened(plant, recall, rep):
    company = plant.orders[0].company
    told = {
        "recall": recall, "company": company, "way": "phone", "key": new_key(),
        "told_at": timezone.now(), "acting_user": rep,
    }  # fmt: skip
    assert tell(**told) == tell(**told)
    row = ToldOfRecall.objects.get()
    assert (row.who, row.way) == (str(rep), "phone")
    with pytest.raises(WrittenOnce):
        row.save()
    late = {**told, "key": new_key(), "told_at": timezone.now() + timedelta(days=1)}
    with pytest.raises(BadInput):
        tell(**late)


def test_the_page_lists_who_is_not_told_first(plant, recall, rep, signed_in):
    mark_shipped(order=plant.orders[1], acting_user=plant.worker)
    client = signed_in(rep)
    page = reverse("recall_detail", args=[recall.number])
    url = reverse("recall_customer", args=[recall.number, plant.orders[0].company.pk])
    sent = {"way": "phone", "told_at": "2026-01-05T10:00", "note": "Casey stops.", "key": new_key()}
    answer = client.post(url, sent)
    assert answer.status_code == 302
    html = client.get(page).content.decode()
    assert html.index("Customer B") < html.index("Customer A")
    assert "Casey stops." in html
    assert "1 not told yet" in html
    for held in affected(plant.lot.code).tanks:
        assert f"{held.lb:,.1f} lb of {held.batch}" in html
    refused = client.post(url, {**sent, "told_at": "nonsense", "key": new_key()})
    assert refused.status_code == 400
    assert "Casey stops." in refused.content.decode()
    assert 'value="nonsense"' in refused.content.decode()


def test_a_refused_opening_keeps_what_was_typed(plant, formulator, signed_in):
    client = signed_in(formulator)
    answer = client.post(reverse("recall_open"), {"source": "L-NONE", "reason": "Cloudy acid"})
    html = answer.content.decode()
    assert answer.status_code == 400
    assert "Nothing is known as L-NONE" in html
    assert 'value="Cloudy acid"' in html
    assert not Recall.objects.exists()


def test_the_page_asks_no_more_queries_for_more_packages(plant, recall, rep, signed_in):
    client = signed_in(rep)
    url = reverse("recall_detail", args=[recall.number])

    def count():
        with CaptureQueriesContext(connection) as asked:
            assert client.get(url).status_code == 200
        return len(asked)

    count()
    few = count()
    for batch in (plant.first, plant.second):
        for number in range(60):
            PackageSerial.objects.create(
                part=batch.parts.get(), serial=f"{batch.number}-X{number}", net_lb=Decimal(9),
                key=new_key(), who="worker",
            )  # fmt: skip
    assert count() == few


def test_a_paper_of_a_recall_belongs_to_its_customer(plant, recall, office):
    issue_recall_letter(recall=recall, company=plant.orders[0].company, acting_user=office)
    assert Paper.objects.get(kind="recall_letter").record.company == plant.orders[0].company


def test_a_mixed_batch_is_held_by_its_own_move_and_an_unfilled_one_is_not_filled(
    rep, plant_worker, formulator
):
    row = Row(rep, plant_worker)
    order = placed_order(rep, CompanyFactory(name="Customer C"), revision=row.blend, quantity=1)
    (batch,) = plan_batches(order=order, tank=Tank.objects.get(), acting_user=plant_worker)
    charge_all(batch, lots_of(batch, plant_worker), plant_worker)
    mark_made(batch=batch, acting_user=plant_worker)
    recall = open_recall(source=batch.number, reason="Cloudy.", acting_user=formulator)
    (here,) = affected(batch.number).here
    assert (here.serials, here.not_numbered, here.shipped_on) == ((), 1, None)
    hold_all(recall=recall, acting_user=formulator)
    batch.refresh_from_db()
    assert batch.status == Batch.Status.HELD
    read_density(batch, plant_worker)
    with pytest.raises(IllegalMove, match=f"Recall {recall.number} holds it"):
        release_batch(batch=batch, acting_user=formulator, why="Looks good.")
    free_all(recall=recall, why="Clear again.", acting_user=formulator)
    release_batch(batch=batch, acting_user=formulator, why="Looks good.")
    hold_all(recall=recall, acting_user=formulator)
    with pytest.raises(IllegalMove, match=f"Recall {recall.number} holds it"):
        fill_packages(
            part=batch.parts.get(), net_lb=[Decimal(100)], key=new_key(), acting_user=plant_worker
        )


def test_a_customer_finds_neither_recall_nor_letter(plant, recall, office):
    company = plant.orders[0].company
    paper = issue_recall_letter(recall=recall, company=company, acting_user=office)
    person = UserFactory(email="a@customer.example", role=Role.CUSTOMER, company=company)
    assert not Paper.objects.visible_to(person).filter(pk=paper.pk).exists()
    assert not Recall.objects.visible_to(person).exists()
    assert Paper.objects.visible_to(office).filter(pk=paper.pk).exists()
    with pytest.raises(NotAllowed):
        hold_all(recall=recall, acting_user=plant.worker)
