"""The stock pages on a tablet, without JavaScript: receive, look, count, move, hold, release."""

import re
from datetime import timedelta
from decimal import Decimal

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from orders.inventory.actions.lot_quality import hold_lot
from orders.inventory.actions.lots import adjust_lot
from orders.models import StockLot
from tests.factories import today
from tests.orders.inventory.stock_cases import make_lot, new_key
from tests.orders.ordering.test_board_pages import body, main

PDF = b"%PDF-1.7 an invented certificate"


@pytest.fixture(autouse=True)
def media(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path


@pytest.fixture
def uan(order):
    return order.lines.get().reservations.get(stock__code="UAN").stock


def key_of(html, form=0):
    return re.findall(r'name="key" value="([0-9a-f]{32})"', html)[form]


def refusal(response, status=400):
    """A page that says what is wrong, whole and with one heading."""
    assert response.status_code == status
    html = response.content.decode()
    assert html.count("<h1") == 1
    return html


def receive(client, stock, status=302, **values):
    url = f"{reverse('lot_receive')}?stock={stock.code}"
    key = key_of(body(client.get(url)))
    asked = {"key": key, "mass_lb": "44120.5", "received_on": today().isoformat(), **values}
    response = client.post(url, asked)
    assert response.status_code == status, response.content
    return response


def test_a_delivery_is_received_with_its_certificate_and_its_file(uan, plant_worker, signed_in):
    client = signed_in(plant_worker)
    choose = body(client.get(reverse("lot_receive")))
    assert f'value="{uan.code}"' in choose
    response = receive(
        client,
        uan,
        **{
            "supplier": "A supplier",
            "supplier_lot": "S-1",
            "location": "Tank 3",
            "source": "CoA 17",
            "density_lb_per_gal": "11.01",
            "figure_N.urea": "16.2",
            "metal_As": "0.3",
            "file": SimpleUploadedFile("../../evil name.exe", PDF),
        },
    )
    lot = StockLot.objects.get()
    assert response["Location"] == reverse("lot_detail", args=[lot.code])
    assert lot.on_hand_lb == Decimal("44120.5")
    assert lot.analysis()["N.urea"] == 16.2
    assert lot.metals_ppm() == {"As": 0.3}
    assert re.fullmatch(r"certificates/\d{4}/certificate\w*\.pdf", lot.certificate.name)
    html = main(body(client.get(response["Location"])))
    for shown in ("44,120.5 lb", "Tank 3", "S-1", "11.010 lb/gal", "16.20 %", "CoA 17", "Arsenic"):
        assert shown in html, shown
    file = client.get(reverse("lot_file", args=[lot.code]))
    assert file.content == PDF
    assert file["Content-Type"] == "application/pdf"
    assert file["Content-Disposition"] == f'attachment; filename="{lot.code}-certificate.pdf"'
    assert file["X-Content-Type-Options"] == "nosniff"


def test_the_file_is_for_staff_and_has_no_other_address(uan, plant_worker, customer, signed_in):
    client = signed_in(plant_worker)
    receive(client, uan, file=SimpleUploadedFile("coa.pdf", PDF))
    lot = StockLot.objects.get()
    assert signed_in(customer).get(reverse("lot_file", args=[lot.code])).status_code == 403
    assert client.get(f"/media/{lot.certificate.name}").status_code == 404
    bare = make_lot(uan, plant_worker)
    assert client.get(reverse("lot_file", args=[bare.code])).status_code == 404


@pytest.mark.parametrize("content", [b"MZ\x90", b"<html><script>", b" %PDF-1.7", b""])
def test_a_file_that_is_no_certificate_is_refused_whatever_its_name(
    uan, plant_worker, signed_in, content
):
    client = signed_in(plant_worker)
    response = receive(client, uan, 400, file=SimpleUploadedFile("coa.pdf", content))
    assert "id_file_error" in refusal(response)
    assert not StockLot.objects.exists()


def test_a_refused_delivery_keeps_what_was_typed_and_says_what_is_wrong(
    uan, plant_worker, signed_in
):
    client = signed_in(plant_worker)
    late = (today() + timedelta(1)).isoformat()
    html = refusal(receive(client, uan, 400, received_on=late, supplier="A supplier"))
    assert "cannot have come in the future" in html
    assert 'value="A supplier"' in html
    html = refusal(receive(client, uan, 400, **{"figure_N.urea": "16"}))
    assert "Name the certificate" in html
    html = refusal(receive(client, uan, 400, mass_lb="1.2345"))
    assert "3 decimal places" in html
    assert not StockLot.objects.exists()


def test_the_same_form_sent_twice_is_one_lot(uan, plant_worker, signed_in):
    client = signed_in(plant_worker)
    url = f"{reverse('lot_receive')}?stock={uan.code}"
    key = key_of(body(client.get(url)))
    asked = {"key": key, "mass_lb": "10", "received_on": today().isoformat()}
    first, second = client.post(url, asked), client.post(url, asked)
    assert first["Location"] == second["Location"]
    assert StockLot.objects.count() == 1


def test_a_scanned_code_leads_straight_to_its_lot_and_words_are_searched(
    uan, plant_worker, signed_in
):
    lot = make_lot(uan, plant_worker, location="Tank 3", supplier_lot="S-77")
    other = make_lot(uan, plant_worker, location="Tank 4")
    client = signed_in(plant_worker)
    scanned = client.get(reverse("lot_list"), {"q": lot.code.lower()})
    assert scanned["Location"] == reverse("lot_detail", args=[lot.code])
    for words in ("tank 3", "s-77"):
        html = main(body(client.get(reverse("lot_list"), {"q": words})))
        assert lot.code in html
        assert other.code not in html
    assert client.get(reverse("lot_detail", args=["L-1999-0001"])).status_code == 404


def test_used_up_lots_are_listed_only_when_asked_for(uan, plant_worker, signed_in):
    lot = make_lot(uan, plant_worker, 10)
    client = signed_in(plant_worker)
    detail = reverse("lot_detail", args=[lot.code])
    key = key_of(body(client.get(detail)), form=1)
    client.post(
        reverse("lot_adjust", args=[lot.code]), {"key": key, "mass_lb": "-10", "why": "Disposed."}
    )
    client.get(detail)  # reads the message that names the lot
    assert lot.code not in main(body(client.get(reverse("lot_list"))))
    for state in ("exhausted", "all"):
        assert lot.code in main(body(client.get(reverse("lot_list"), {"state": state})))


def test_a_lot_is_counted_moved_held_and_released_from_its_page(
    uan, plant_worker, formulator, signed_in
):
    lot = make_lot(uan, plant_worker, 1000)
    client, detail = signed_in(plant_worker), reverse("lot_detail", args=[lot.code])

    def act(who, route, **values):
        html = body(client.get(detail))
        seen = re.search(r'name="seen_lb" value="([^"]+)"', html)
        asked = {"key": key_of(html), "seen_lb": seen[1] if seen else "", **values}
        return signed_in(who).post(reverse(route, args=[lot.code]), asked, follow=True)

    body(act(plant_worker, "lot_count", found_lb="990.5", why="Dip stick."))
    assert StockLot.objects.get(pk=lot.pk).on_hand_lb == Decimal("990.5")
    html = body(act(plant_worker, "lot_transfer", mass_lb="90.5", location="Tote by the door"))
    assert "Tote by the door" in html
    assert StockLot.objects.get(pk=lot.pk).on_hand_lb == 900
    assert "Held, not to be used" in body(act(plant_worker, "lot_hold", why="Haze."))
    assert act(plant_worker, "lot_release", why="Fine.").status_code == 403
    html = main(body(act(formulator, "lot_release", why="Filtered, analysis as before.")))
    assert "Held, not to be used" not in html
    assert "Filtered, analysis as before." in html
    refused = act(plant_worker, "lot_transfer", mass_lb="9999", location="x")
    assert "holds 900 lb" in refusal(refused)


def test_a_count_against_a_balance_that_has_moved_is_refused(uan, plant_worker, signed_in):
    lot = make_lot(uan, plant_worker, 1000)
    asked = {"key": "k" * 32, "found_lb": "900", "seen_lb": "1200", "why": "Count."}
    response = signed_in(plant_worker).post(reverse("lot_count", args=[lot.code]), asked)
    assert "count again" in refusal(response, 409)


def test_a_certificate_can_be_recorded_later_and_shows_what_stands_now(uan, formulator, signed_in):
    lot = make_lot(uan, formulator, figures={"N.urea": 15.5})
    client, url = signed_in(formulator), reverse("lot_certificate", args=[lot.code])
    html = body(client.get(url))
    assert 'value="15.5"' in html
    assert "Typical 7.8 %" in html
    assert client.post(url, {"source": "CoA 2", "figure_N.urea": "16.1"}).status_code == 302
    assert StockLot.objects.get(pk=lot.pk).analysis()["N.urea"] == 16.1
    assert "id_figure_N.urea_error" in refusal(client.post(url, {"figure_N.urea": "101"}))


def test_the_levels_show_on_hand_reserved_available_and_the_day_it_runs_out(
    order, uan, plant_worker, signed_in
):
    make_lot(uan, plant_worker, 100)
    make_lot(uan, plant_worker, 50, held_reason="Not tested.")
    needed = order.lines.get().reservations.get(stock=uan).needed_lb
    html = main(body(signed_in(plant_worker).get(reverse("stock_levels"))))
    row = html.split('id="to-buy"')[1].split("UAN</a>")[2].split("</tr>")[0]
    shown = re.sub(r"<[^>]+>", " ", row).split()
    assert "150" in shown
    assert shown[shown.index("held") - 1] == "50"
    assert f"{needed:,.3f}".rstrip("0").rstrip(".") in shown
    assert shown[shown.index("short") - 1] == f"{100 - needed:,.3f}".rstrip("0").rstrip(".")
    assert f"{order.due_on:%a, %b} {order.due_on.day}" in " ".join(shown)


def test_the_order_board_warns_of_short_stocks_for_staff_and_not_for_customers(
    order, uan, plant_worker, customer, signed_in
):
    client = signed_in(plant_worker)
    assert "Short stocks" not in main(body(client.get(reverse("order_board"))))
    lot = make_lot(uan, plant_worker, 90_000)
    html = main(body(client.get(reverse("order_board"))))
    assert "Short stocks" in html
    assert "UAN" not in html.split("Short stocks")[1].split("</section>")[0]
    hold_lot(lot=lot, why="Haze.", acting_user=plant_worker)
    html = main(body(client.get(reverse("order_board"))))
    short = html.split("Short stocks")[1].split("</section>")[0]
    assert "UAN" in short
    assert order.number in short
    assert "$" not in short
    assert "Short stocks" not in body(signed_in(customer).get(reverse("order_board")))


def test_a_plant_without_lots_is_told_how_to_begin(db, plant_worker, signed_in):
    html = main(body(signed_in(plant_worker).get(reverse("stock_levels"))))
    assert "Receive the first delivery" in html


def test_a_lots_page_costs_the_same_queries_however_much_has_moved(
    uan, plant_worker, signed_in, django_assert_max_num_queries
):
    lot = make_lot(uan, plant_worker, 1000)
    for _ in range(6):
        adjust_lot(lot=lot, mass_lb=-1, why="Sample.", acting_user=plant_worker, key=new_key())
    client = signed_in(plant_worker)
    with django_assert_max_num_queries(14):
        body(client.get(reverse("lot_detail", args=[lot.code])))
