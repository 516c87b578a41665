"""A refused form of lots, readings, packages and rinse keeps what was typed, with the reason."""

import re
from decimal import Decimal

import pytest
from django.urls import reverse

from orders.models import BatchClosing, PackageSerial, StockLot, TankRinse
from orders.production.actions.packaging import close_batch, fill_packages
from tests.factories import in_days, today
from tests.orders.inventory.stock_cases import make_lot
from tests.orders.production.charging_cases import new_key


@pytest.fixture
def lot(order, plant_worker):
    stock = order.lines.get().reservations.get(stock__code="UAN").stock
    return make_lot(stock, plant_worker, 1000, expires_on=in_days(30))


def sent(client, route, record, **typed):
    """The page that comes back after a form was refused, and its status."""
    answer = client.post(reverse(route, args=[record]), {"key": new_key(), **typed})
    html = answer.content.decode()
    assert answer.status_code in (400, 409), (answer.status_code, route)
    assert html.count("<h1") == 1
    return html


def field_error(html, field):
    found = re.search(rf'id="{field}_error">([^<]*)<', html)
    return found[1] if found else ""


@pytest.mark.parametrize(
    ("route", "typed", "field", "said"),
    [
        ("lot_count", {"found_lb": "990.1234", "why": "Dip stick."}, "count_found_lb", "decimal"),
        ("lot_count", {"found_lb": "-1", "why": "Dip stick."}, "count_found_lb", "0"),
        ("lot_adjust", {"mass_lb": "-9999", "why": "A leak."}, "adjust_mass_lb", "holds 1,000 lb"),
        ("lot_adjust", {"mass_lb": "0", "why": "A leak."}, "adjust_mass_lb", "changes nothing"),
        ("lot_transfer", {"mass_lb": "9999", "location": "Day tank"}, "transfer_mass_lb", "holds"),
        ("lot_transfer", {"mass_lb": "12.5", "location": " "}, "transfer_location", "required"),
        ("lot_hold", {"why": " "}, "hold_why", "required"),
        ("lot_extend", {"expires_on": "soon", "why": "Clear."}, "extend_expires_on", "valid date"),
        ("lot_extend", {"expires_on": "EARLIER", "why": "Clear."}, "extend_expires_on", "Later"),
    ],
)
def test_a_lots_form_comes_back(lot, formulator, signed_in, route, typed, field, said):
    typed = {name: today().isoformat() if v == "EARLIER" else v for name, v in typed.items()}
    if route == "lot_count":
        typed["seen_lb"] = "1000"
    html = sent(signed_in(formulator), route, lot.code, **typed)
    assert said in field_error(html, field)
    for name, value in typed.items():
        if value.strip() and name != "seen_lb":
            assert re.search(rf'name="{name}" value="{re.escape(value)}"', html), name
    assert f'href="#{field}"' in html.split("Not saved.")[1].split("</div>")[0]
    lot.refresh_from_db()
    assert (lot.on_hand_lb, lot.state) == (1000, "ok")
    assert StockLot.objects.count() == 1


def test_a_lot_that_is_not_held_comes_back_with_the_reason_typed(lot, formulator, signed_in):
    html = sent(signed_in(formulator), "lot_release", lot.code, why="Analysed.")
    assert "is not held" in html


def test_a_count_that_came_too_late_can_be_sent_again_as_it_stands(lot, plant_worker, signed_in):
    client = signed_in(plant_worker)
    html = sent(client, "lot_count", lot.code, found_lb="900", seen_lb="1200", why="Dip stick.")
    assert "count again" in html
    assert 'name="found_lb" value="900"' in html
    assert 'name="seen_lb" value="1000' in html
    key = re.search(r'name="key" value="([^"]+)"', html)[1]
    again = {"key": key, "found_lb": "900", "seen_lb": "1000", "why": "Dip stick."}
    assert client.post(reverse("lot_count", args=[lot.code]), again).status_code == 302


@pytest.mark.parametrize(
    ("typed", "field", "said"),
    [
        ({"count": "0", "net_lb": "2700"}, "id_count", "greater than or equal to 1"),
        ({"count": "1", "net_lb": "9999"}, "id_net_lb", "more than a"),
        ({"count": "two", "net_lb": "2700.5"}, "id_count", "whole number"),
    ],
)
def test_filling_comes_back(released, plant_worker, signed_in, typed, field, said):
    part = released.parts.get()
    html = sent(signed_in(plant_worker), "batch_packages", released.number, part=part.pk, **typed)
    assert said in field_error(html, field)
    for name, value in typed.items():
        assert f'name="{name}" value="{value}"' in html
    assert not PackageSerial.objects.exists()


def test_closing_comes_back_with_the_word_it_needs(released, plant_worker, signed_in):
    fill_packages(
        part=released.parts.get(), net_lb=[Decimal(100)], key=new_key(), acting_user=plant_worker
    )
    html = sent(signed_in(plant_worker), "batch_close", released.number, why="")
    assert "say where the difference comes from" in field_error(html, "close_why")
    assert not BatchClosing.objects.exists()


def test_a_rinse_comes_back(released, plant_worker, signed_in):
    fill_packages(
        part=released.parts.get(), net_lb=[Decimal(100)], key=new_key(), acting_user=plant_worker
    )
    close_batch(batch=released, why="Test.", key=new_key(), acting_user=plant_worker)
    typed = {
        "water_lb": "0",
        "residue_lb": "80.5",
        "is_kept": "kept",
        "location": "Tote by the door",
        "note": "Pump too.",
    }
    html = sent(signed_in(plant_worker), "batch_rinse", released.number, **typed)
    assert "0.001" in field_error(html, "rinse_water_lb")
    for value in ("80.5", "Tote by the door", "Pump too."):
        assert f'value="{value}"' in html
    assert re.search(r'<option value="kept" selected', html)
    assert re.search(r"<details open[^>]*><summary[^>]*>Write down a rinse", html)
    assert not TankRinse.objects.exists()


def test_a_cancelled_batch_asks_for_its_reason_on_its_own_page(batch, plant_worker, signed_in):
    html = sent(signed_in(plant_worker), "batch_cancel", batch.number, why="")
    assert "required" in field_error(html, "id_why")
    assert f"Batch {batch.number}" in html


def test_a_release_that_comes_too_late_says_so_above_its_form(released, formulator, signed_in):
    answer = signed_in(formulator).post(reverse("batch_release", args=[released.number]), {})
    assert answer.status_code == 409
    assert "already released" in answer.content.decode()
