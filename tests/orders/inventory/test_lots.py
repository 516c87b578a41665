"""Lots: received with a certificate that overrides the catalogue, held, released, suggested."""

import io
from datetime import timedelta
from decimal import Decimal

import pytest
from django.core.files.base import ContentFile
from django.db import IntegrityError, transaction
from pypdf import PdfReader

from blendshop.errors import BadInput, IllegalMove, NotAllowed
from orders.inventory.actions.lot_quality import (
    Certificate,
    extend_lot,
    hold_lot,
    record_certificate,
    release_lot,
)
from orders.inventory.actions.lots import Delivery, receive_lot, transfer_lot, use_lot
from orders.inventory.levels import suggested_lots
from orders.models import StockLot, StockMovement
from orders.models.pounds import exact_pounds, written_pounds
from tests.factories import make_simple_catalogue, today
from tests.orders.inventory.stock_cases import make_lot, new_key, plan
from tests.orders.labels.label_cases import text_of
from tests.orders.planning.plant_cases import make_shop, placed_order


@pytest.fixture
def stocks(db):
    return make_simple_catalogue()


def test_a_received_lot_has_its_own_code_and_its_whole_mass_on_hand(stocks, plant_worker):
    lot = make_lot(stocks["UAN"], plant_worker, "44120.5", supplier="A supplier", supplier_lot="S1")
    lot.refresh_from_db()
    assert lot.code == f"L-{today().year}-0001"
    assert lot.on_hand_lb == lot.received_lb == Decimal("44120.5")
    assert lot.state == StockLot.State.OK
    movement = lot.movements.get()
    assert (movement.kind, movement.mass_lb) == ("received", Decimal("44120.5"))
    assert (movement.by, movement.who) == (plant_worker, str(plant_worker))


def test_the_certificate_overrides_the_typical_figures_and_only_those_it_names(
    stocks, plant_worker
):
    lot = receive_lot(
        delivery=Delivery(stock=stocks["UAN"], mass_lb=Decimal(100), received_on=today()),
        acting_user=plant_worker,
        key=new_key(),
        certificate=Certificate(
            source="CoA 9",
            figures={"N.urea": 16.1, "S": 0.0},
            metals={"As": 0.4},
            density_lb_per_gal=11.02,
            density_temp_f=60.0,
        ),
    )
    lot = StockLot.objects.get(pk=lot.pk)
    assert lot.analysis() == {"N.urea": 16.1, "N.ammoniacal": 7.8, "N.nitrate": 7.8, "S": 0.0}
    assert lot.density() == 11.02
    assert lot.metals_ppm() == {"As": 0.4}
    assert {figure.source for figure in lot.figures.all()} == {"CoA 9"}
    assert make_lot(stocks["UAN"], plant_worker).density() == 11.06


@pytest.mark.parametrize(
    ("certificate", "field"),
    [
        (Certificate(figures={"N.urea": 16.0}), "source"),
        (Certificate(source="CoA", figures={"N.urea": 101.0}), "entry"),
        (Certificate(source="CoA", figures={"unobtainium": 1.0}), "key"),
        (Certificate(source="CoA", metals={"Xx": 1.0}), "metal"),
        (Certificate(source="CoA", density_lb_per_gal=3.0), "density_lb_per_gal"),
    ],
)
def test_a_certificate_that_cannot_be_is_refused_and_leaves_no_lot(
    stocks, plant_worker, certificate, field
):
    with pytest.raises(BadInput) as refused:
        receive_lot(
            delivery=Delivery(stock=stocks["UAN"], mass_lb=Decimal(100), received_on=today()),
            acting_user=plant_worker,
            key=new_key(),
            certificate=certificate,
        )
    assert field in refused.value.fields
    assert not StockLot.objects.exists()
    assert not StockMovement.objects.exists()


def test_a_new_certificate_replaces_the_old_one_which_stays_in_the_history(
    stocks, formulator, settings, tmp_path
):
    settings.MEDIA_ROOT = tmp_path
    lot = make_lot(stocks["UAN"], formulator, figures={"N.urea": 15.0, "N.nitrate": 8.0})
    record_certificate(
        lot=lot,
        certificate=Certificate(
            source="CoA 2", figures={"N.urea": 16.0}, file=ContentFile(b"%PDF-1", "coa.pdf")
        ),
        acting_user=formulator,
    )
    lot = StockLot.objects.get(pk=lot.pk)
    assert {figure.key: figure.pct for figure in lot.figures.all()} == {"N.urea": 16.0}
    with lot.certificate.open("rb") as file:
        assert file.read() == b"%PDF-1"
    assert lot.events.get().data["before"]["figures"] == {"N.urea": 15.0, "N.nitrate": 8.0}


def test_a_delivery_cannot_come_in_the_future_or_expire_before_it_came(stocks, plant_worker):
    for days in ({"received_on": today() + timedelta(1)}, {"expires_on": today() - timedelta(1)}):
        with pytest.raises(BadInput):
            make_lot(stocks["UAN"], plant_worker, **days)
    assert not StockLot.objects.exists()


@pytest.mark.parametrize("mass", ["0", "-5", "0.0001", "NaN", "Infinity", "1e12"])
def test_a_mass_that_no_scale_shows_is_refused(stocks, plant_worker, mass):
    with pytest.raises(BadInput):
        make_lot(stocks["UAN"], plant_worker, mass)
    assert not StockLot.objects.exists()


def test_pounds_are_read_digit_for_digit_and_written_without_idle_zeros():
    assert exact_pounds(12.1) == Decimal("12.1")
    assert exact_pounds(0.1) + exact_pounds(0.2) == exact_pounds("0.3")
    assert [written_pounds(Decimal(text)) for text in ("44000", "1234.500", "0.125", "-10")] == [
        "44,000",
        "1,234.5",
        "0.125",
        "-10",
    ]


def test_the_lot_that_expires_first_is_suggested_first_then_the_one_received_first(
    stocks, plant_worker
):
    uan = stocks["UAN"]

    def lot(received_days_ago, expires_in=None):
        return make_lot(
            uan,
            plant_worker,
            received_on=today() - timedelta(received_days_ago),
            expires_on=None if expires_in is None else today() + timedelta(expires_in),
        )

    never_new, never_old = lot(1), lot(40)
    late, soon, last_day, gone = lot(50, 90), lot(2, 10), lot(3, 0), lot(90, -1)
    found = suggested_lots([uan], today())[uan.pk]
    assert found == [last_day, soon, late, never_old, never_new]
    assert gone not in found


def test_held_and_empty_lots_are_never_suggested(stocks, plant_worker, formulator, rep, company):
    uan = stocks["UAN"]
    held, good = make_lot(uan, plant_worker), make_lot(uan, plant_worker)
    hold_lot(lot=held, why="Crystals at the outlet.", acting_user=plant_worker)
    assert suggested_lots([uan], today()) == {uan.pk: [good]}
    release_lot(lot=held, why="Dissolved on warming, analysis as before.", acting_user=formulator)
    assert suggested_lots([uan], today()) == {uan.pk: [held, good]}
    assert [(e.from_status, e.to_status) for e in held.events.all()] == [
        ("ok", "held"),
        ("held", "ok"),
    ]


def test_only_the_formulator_releases_and_a_hold_needs_a_reason(
    stocks, plant_worker, office, rep, customer
):
    lot = make_lot(stocks["UAN"], plant_worker)
    with pytest.raises(BadInput):
        hold_lot(lot=lot, why=" ", acting_user=plant_worker)
    hold_lot(lot=lot, why="Smells of ammonia.", acting_user=office)
    for person in (plant_worker, office, rep, customer):
        with pytest.raises(NotAllowed):
            release_lot(lot=lot, why="Looks fine.", acting_user=person)
    assert StockLot.objects.get(pk=lot.pk).state == "held"


def test_a_held_lot_held_again_keeps_its_first_reason(stocks, plant_worker):
    lot = make_lot(stocks["UAN"], plant_worker, held_reason="Certificate missing.")
    assert hold_lot(lot=lot, why="Another reason.", acting_user=plant_worker) == []
    assert StockLot.objects.get(pk=lot.pk).held_reason == "Certificate missing."


def test_holding_a_lot_holds_what_was_split_from_it(stocks, plant_worker):
    lot = make_lot(stocks["UAN"], plant_worker, 1000)
    part = transfer_lot(
        lot=lot, mass_lb=400, location="Tank 7", acting_user=plant_worker, key=new_key()
    )
    smaller = transfer_lot(
        lot=part, mass_lb=100, location="Pail", acting_user=plant_worker, key=new_key()
    )
    held = hold_lot(lot=lot, why="Wrong colour.", acting_user=plant_worker)
    assert held == [lot, part, smaller]
    assert set(StockLot.objects.values_list("state", flat=True)) == {"held"}


def test_a_held_lot_cannot_be_used_and_nothing_moves(plant_worker, rep, company):
    make_shop()
    batch = plan(placed_order(rep, company), plant_worker)[0]
    uan = batch.parts.get().order_line.reservations.get(stock__code="UAN").stock
    lot = make_lot(uan, plant_worker, 1000, held_reason="Not tested yet.")
    with pytest.raises(IllegalMove, match="Not tested yet"):
        use_lot(lot=lot, mass_lb=10, batch=batch, acting_user=plant_worker, key=new_key())
    assert StockLot.objects.get(pk=lot.pk).on_hand_lb == 1000
    assert lot.movements.count() == 1


@pytest.fixture
def expired(batch, plant_worker):
    """A lot whose last day was yesterday, and a batch that wants it."""
    uan = batch.parts.get().order_line.reservations.get(stock__code="UAN").stock
    received, last = today() - timedelta(90), today() - timedelta(1)
    return make_lot(uan, plant_worker, 1000, received_on=received, expires_on=last), batch


def test_an_expired_lot_cannot_be_used_until_a_formulator_has_had_it_tested(
    expired, plant_worker, formulator
):
    lot, batch = expired
    with pytest.raises(IllegalMove, match="expired on"):
        use_lot(lot=lot, mass_lb=10, batch=batch, acting_user=plant_worker, key=new_key())
    later = today() + timedelta(30)
    with pytest.raises(NotAllowed):
        extend_lot(lot=lot, expires_on=later, why="clear", acting_user=plant_worker)
    extend_lot(lot=lot, expires_on=later, why="Assay 31.9 % N, clear.", acting_user=formulator)
    lot.refresh_from_db()
    use_lot(lot=lot, mass_lb=10, batch=batch, acting_user=plant_worker, key=new_key())
    assert "Assay 31.9 % N" in lot.events.last().why


def test_a_weight_that_waited_for_the_network_counts_for_the_day_it_was_taken(
    expired, plant_worker
):
    lot, batch = expired
    use_lot(
        lot=lot, mass_lb=10, batch=batch, acting_user=plant_worker, key=new_key(),
        on=today() - timedelta(1),
    )  # fmt: skip
    assert StockLot.objects.get(pk=lot.pk).on_hand_lb == 990


def test_a_last_day_is_only_moved_later_and_with_a_reason(expired, plant_worker, formulator):
    lot, _ = expired
    with pytest.raises(BadInput):
        extend_lot(lot=lot, expires_on=lot.expires_on, why="test", acting_user=formulator)
    with pytest.raises(BadInput):
        extend_lot(lot=lot, expires_on=today(), why=" ", acting_user=formulator)
    without = make_lot(lot.stock, plant_worker)
    with pytest.raises(IllegalMove, match="no last day"):
        extend_lot(lot=without, expires_on=today(), why="test", acting_user=formulator)


def size_of(pdf):
    box = PdfReader(io.BytesIO(pdf)).pages[0].mediabox
    return float(box.width), float(box.height)


def test_the_lot_label_carries_the_code_and_what_to_mind(expired, plant_worker, signed_in):
    lot, _ = expired
    type(lot.stock).objects.filter(pk=lot.stock_id).update(
        hazards="Corrodes brass.", ppe="Goggles, gloves."
    )
    hold_lot(lot=lot, why="Crystals.", acting_user=plant_worker)
    answer = signed_in(plant_worker).get(f"/lots/{lot.code}/label.pdf")
    text = text_of(answer.content)
    for words in (
        lot.code,
        lot.stock.name,
        "Corrodes brass",
        "Goggles",
        "HELD",
        "SDS first; it decides",
    ):
        assert words in text
    assert size_of(answer.content) == (612, 792)
    rolled = signed_in(plant_worker).get(f"/lots/{lot.code}/label.pdf?stock=4x6")
    assert size_of(rolled.content) == (288, 432)
    assert lot.code in text_of(rolled.content)
    assert signed_in(plant_worker).get(f"/lots/{lot.code}/label.pdf?stock=a4").status_code == 400


def test_the_formulator_moves_the_last_day_on_the_lot_s_page(expired, formulator, signed_in):
    lot, _ = expired
    client = signed_in(formulator)
    assert "Move the last day" in client.get(f"/lots/{lot.code}/").content.decode()
    day = (today() + timedelta(20)).isoformat()
    client.post(f"/lots/{lot.code}/extend/", {"expires_on": day, "why": "Assay as before."})
    lot.refresh_from_db()
    assert lot.expires_on.isoformat() == day


def test_the_database_itself_wants_a_reason_for_a_hold(stocks, plant_worker):
    lot = make_lot(stocks["UAN"], plant_worker)
    with pytest.raises(IntegrityError), transaction.atomic():
        StockLot.objects.filter(pk=lot.pk).update(state="held")
