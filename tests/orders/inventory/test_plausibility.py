"""Figures typed at the dock against the stock's typical ones and against what a truck carries."""

import re
from decimal import Decimal

import pytest
from django.urls import reverse

from blendshop.errors import BadInput
from orders.inventory.actions.lot_quality import Certificate, record_certificate
from orders.inventory.actions.lots import Delivery, receive_lot
from orders.inventory.plausibility import TRUCKLOAD_LB, Asks, doubts
from orders.models import LotEvent, StockLot
from tests.factories import BaseStockFactory, make_simple_catalogue, today
from tests.orders.inventory.stock_cases import make_lot, new_key
from tests.orders.inventory.test_lots_pages import key_of, refusal
from tests.orders.ordering.test_board_pages import body


@pytest.fixture
def uan(db):
    """16.4 % urea nitrogen, 7.8 % of each other form, 11.06 lb/gal."""
    return make_simple_catalogue()["UAN"]


def asked(stock, **given):
    return {doubt.name: doubt.asks.value for doubt in doubts(stock, **given)}


def receive(stock, by, mass_lb="44000", *, again=None, **certificate):
    return receive_lot(
        delivery=Delivery(stock=stock, mass_lb=Decimal(mass_lb), received_on=today()),
        certificate=Certificate(source="CoA 1", **certificate) if certificate else None,
        acting_user=by,
        key=new_key(),
        again=again,
    )


def test_a_truck_carries_the_federal_gross_limit_less_its_own_weight():
    # 80,000 lb of truck and load (23 U.S.C. 127(a); 23 CFR 658.17(b)); about 24 tons of load.
    assert TRUCKLOAD_LB == 48_000


@pytest.mark.parametrize(
    ("pct", "wanted"),
    [
        (16.4, None),
        (14.8, None),  # 9.8 % less
        (18.0, None),
        (14.7, "look_again"),  # 10.4 % less
        (18.1, "look_again"),
        (100.0, "look_again"),  # six times
        (1.64, "type_again"),
        (2.0, "type_again"),
        (0.0, "type_again"),
    ],
)
def test_a_content_is_asked_about_beyond_ten_percent_and_typed_again_when_tenfold(uan, pct, wanted):
    found = asked(uan, figures={"N.urea": pct})
    assert found == ({} if wanted is None else {"N.urea": wanted})


def test_a_content_tenfold_too_large_is_typed_again(db):
    iron = BaseStockFactory(analysis={"Fe": 5.1, "Mn": 0.04})
    assert asked(iron, figures={"Fe": 51.0}) == {"Fe": "type_again"}
    # So small a content may be double or nothing; tenfold it is a question all the same.
    assert asked(iron, figures={"Mn": 0.08}) == {}
    assert asked(iron, figures={"Mn": 0.0}) == {}
    assert asked(iron, figures={"Mn": 0.4}) == {"Mn": "type_again"}
    assert asked(iron, figures={"S": 3.0}) == {}  # nothing typical to hold it against


def test_a_density_is_held_against_the_typical_one(uan):
    assert asked(uan, density_lb_per_gal=10.7) == {}
    assert asked(uan, density_lb_per_gal=9.8) == {"density_lb_per_gal": "look_again"}
    assert asked(uan, density_lb_per_gal=1.106) == {"density_lb_per_gal": "type_again"}


def test_a_stock_without_contents_of_its_own_has_no_typical_density(db):
    rinse = BaseStockFactory(density_lb_per_gal=8.34)
    assert asked(rinse, density_lb_per_gal=10.4, figures={"N.urea": 8.0}) == {}


def test_a_mass_above_a_truckload_is_typed_again(uan):
    assert asked(uan, mass_lb=Decimal(48_000)) == {}
    assert asked(uan, mass_lb=Decimal("48000.5")) == {"mass_lb": "type_again"}


@pytest.mark.parametrize(
    ("given", "name"),
    [
        ({"mass_lb": "440000"}, "mass_lb"),
        ({"figures": {"N.urea": 14.0}}, "N.urea"),
        ({"density_lb_per_gal": 9.5}, "density_lb_per_gal"),
    ],
)
def test_the_action_takes_no_doubtful_figure_without_the_same_figure_again(
    uan, plant_worker, given, name
):
    for again in (None, {}, {name: 15.0}):
        with pytest.raises(BadInput) as refused:
            receive(uan, plant_worker, **given, again=again)
        assert set(refused.value.fields) == {name}
    assert not StockLot.objects.exists()


def test_what_was_confirmed_stands_in_the_lots_history(uan, plant_worker):
    lot = receive(
        uan,
        plant_worker,
        "440000",
        figures={"N.urea": 1.64, "N.nitrate": 7.7},
        again={"mass_lb": Decimal(440000), "N.urea": 1.64},
    )
    event = lot.events.get()
    assert event.who == str(plant_worker)
    assert "440,000 lb is more than a truck carries" in event.why
    assert "1.64 %" in event.why
    assert event.data["confirmed"] == [
        {"name": "mass_lb", "given": 440000.0, "usual": 48000.0, "asked": "type_again"},
        {"name": "N.urea", "given": 1.64, "usual": 16.4, "asked": "type_again"},
    ]


def test_a_lot_without_doubts_has_no_such_event(uan, plant_worker):
    receive(uan, plant_worker, figures={"N.urea": 16.1})
    assert not LotEvent.objects.exists()


def test_a_certificate_recorded_later_is_asked_about_too(uan, formulator):
    lot = make_lot(uan, formulator)
    certificate = Certificate(source="CoA 2", figures={"N.urea": 13.0})
    with pytest.raises(BadInput, match="far from"):
        record_certificate(lot=lot, certificate=certificate, acting_user=formulator)
    assert not lot.figures.exists()
    record_certificate(
        lot=lot, certificate=certificate, acting_user=formulator, again={"N.urea": 13.0}
    )
    event = lot.events.get()
    assert event.why.startswith("Certificate recorded. Confirmed: Urea nitrogen 13 %")
    assert event.data["confirmed"][0]["asked"] == Asks.LOOK_AGAIN


# ------------------------------------------------------------------------------- the pages


@pytest.fixture
def dock(uan, plant_worker, signed_in):
    """Sends the form of a delivery and gives the answer."""
    client = signed_in(plant_worker)
    url = f"{reverse('lot_receive')}?stock={uan.code}"
    key = key_of(body(client.get(url)))

    def send(**typed):
        asked = {"key": key, "mass_lb": "44120.5", "received_on": today().isoformat(), **typed}
        return client.post(url, asked)

    return send


def test_a_tenfold_mass_comes_back_with_a_second_field_and_everything_typed(dock):
    typed = {"mass_lb": "441205.5", "supplier": "A supplier", "location": "Tank 3"}
    answer = dock(**typed)
    assert answer.status_code == 400
    html = refusal(answer)
    assert "more than a truck carries" in html
    assert html.index('name="mass_lb"') < html.index('name="again_mass_lb"')
    assert not re.search(r'name="again_mass_lb"[^>]* value=', html)
    for value in ("441205.5", "A supplier", "Tank 3"):
        assert f'value="{value}"' in html
    html = refusal(dock(**typed, again_mass_lb="441205"))
    assert "This is another figure." in html
    assert not StockLot.objects.exists()
    assert dock(**typed, again_mass_lb="441205.5").status_code == 302
    assert StockLot.objects.get().on_hand_lb == Decimal("441205.5")
    assert "Confirmed" in StockLot.objects.get().events.get().why


def test_a_content_far_off_is_ticked_and_the_tick_is_for_that_figure_alone(dock):
    certificate = {"source": "CoA 9", "figure_N.nitrate": "7.7"}
    html = refusal(dock(**certificate, **{"figure_N.urea": "14.2"}))
    assert "Urea nitrogen 14.2 % is far from" in html
    box = re.search(r'<input type="checkbox" name="again_figure_N.urea"[^>]*>', html)[0]
    assert 'value="14.2"' in box
    assert "checked" not in box
    # Typed over since: the tick that was set for 14.2 is not a word for 13.1.
    ticked = {"again_figure_N.urea": "14.2"}
    html = refusal(dock(**certificate, **ticked, **{"figure_N.urea": "13.1"}))
    box = re.search(r'<input type="checkbox" name="again_figure_N.urea"[^>]*>', html)[0]
    assert 'value="13.1"' in box
    assert "checked" not in box
    assert dock(**certificate, **ticked, **{"figure_N.urea": "14.2"}).status_code == 302
    assert StockLot.objects.get().analysis()["N.urea"] == 14.2


def test_a_tick_stays_set_while_another_field_is_wrong(dock):
    html = refusal(dock(**{"figure_N.urea": "14.2", "again_figure_N.urea": "14.2", "mass_lb": "x"}))
    box = re.search(r'<input type="checkbox" name="again_figure_N.urea"[^>]*>', html)[0]
    assert "checked" in box
    assert box.count("value=") == 1


def test_words_in_the_second_field_are_a_field_error(dock):
    answer = dock(mass_lb="440000", again_mass_lb="yes")
    assert 'id="id_again_mass_lb_error"' in refusal(answer)


def test_a_certificate_recorded_later_asks_on_its_page(uan, formulator, signed_in):
    lot = make_lot(uan, formulator)
    client, url = signed_in(formulator), reverse("lot_certificate", args=[lot.code])
    typed = {"source": "CoA 2", "density_lb_per_gal": "1.106e1", "figure_N.urea": "1.64"}
    html = refusal(client.post(url, typed))
    assert 'name="again_figure_N.urea"' in html
    assert 'name="again_density_lb_per_gal"' not in html
    assert client.post(url, {**typed, "again_figure_N.urea": "1.64"}).status_code == 302
    assert "Confirmed" in lot.events.get().why
