"""What was ordered from a supplier: taken off what to buy until it is received as a lot."""

import csv
import io
from datetime import timedelta

import pytest
from django.urls import reverse

from blendshop.errors import IllegalMove, NotAllowed
from orders.buying.actions import call_off_purchase, save_storage
from orders.buying.proposal import buying
from orders.models import Order, StandingRound, StockLot, StockPurchase
from tests.factories import PlantProfileFactory, today
from tests.orders.buying.buying_cases import example, order_of, terms_of
from tests.orders.labels.label_cases import text_of


def salt_recipe():
    return StandingRound.objects.get().revision


def list_of(client):
    file = client.get(reverse("purchase_list_csv"), {"weeks": 4}).content.decode("utf-8-sig")
    return list(csv.DictReader(io.StringIO(file)))


def test_what_is_ordered_is_taken_off_until_it_is_received(office, plant_worker, signed_in):
    PlantProfileFactory()
    salt = example(today(), office)
    terms_of(salt, least_order_lb=0)
    client = signed_in(office)
    assert [row["pounds"] for row in list_of(client)] == ["2400"]

    new = reverse("purchase_new", args=["SALT"])
    form = client.get(new, {"weeks": 4}).context["form"]
    day = today() + timedelta(days=14)  # the supplier's days to delivery
    assert form.initial["expected_on"] == day
    typed = {"supplier": "Supplier A, invented", "lb": "1500", "expected_on": day.isoformat()}
    late = {**typed, "key": "k", "expected_on": (today() - timedelta(days=1)).isoformat()}
    assert client.post(new, late).status_code == 400
    for _twice in range(2):
        assert client.post(new, {**typed, "key": "k"}).url == reverse("buying")
    purchase = StockPurchase.objects.get()

    # 2,000 lb lacked; of what is left a drum of 600 lb is bought.
    (row,) = list_of(client)
    assert [row[name] for name in ("pounds", "lacking_lb", "on_the_way_lb")] == [
        "600", "500", "1500",
    ]  # fmt: skip
    paper = client.get(reverse("purchase_list_pdf"), {"weeks": 4}).content
    for text in (
        client.get(reverse("purchase_list"), {"weeks": 4}).text,
        client.get(reverse("buying"), {"weeks": 4}).text,
        " ".join(text_of(paper).split()),
    ):
        assert "On the way" in text
        assert "1,500" in text
        assert "600" in text

    order_of(salt_recipe(), today() + timedelta(days=4), totes=3, placed_on=today())
    shortage = " ".join(client.get(reverse("stock_levels"), {"short": 1}).text.split())
    assert "1,500 lb on the way" in shortage
    Order.objects.order_by("-pk")[0].delete()

    receive = f"{reverse('lot_receive')}?stock=SALT&purchase={purchase.pk}"
    plant = signed_in(plant_worker)
    form = plant.get(receive).context["form"]
    assert (form.initial["purchase"], form.initial["supplier"]) == (
        purchase.pk, "Supplier A, invented"
    )  # fmt: skip
    came = {
        "key": "came", "mass_lb": "1400", "received_on": today().isoformat(),
        "purchase": purchase.pk,
    }  # fmt: skip
    page = plant.post(receive, came, follow=True).text
    assert "100 lb less came than was ordered" in page
    purchase.refresh_from_db()
    assert purchase.received_as == StockLot.objects.get(received_lb=1400)
    # 3,000 and 1,400 lb are usable, nothing is on the way: 600 lb lack.
    (row,) = list_of(client)
    assert [row[name] for name in ("pounds", "lacking_lb", "on_the_way_lb")] == ["600", "600", "0"]
    with pytest.raises(IllegalMove, match="came already"):
        call_off_purchase(acting_user=office, purchase=purchase)


def test_page_file_and_paper_split_what_storage_does_not_take(office, plant_worker, signed_in):
    PlantProfileFactory()
    salt = example(today(), office)
    terms_of(salt, least_order_lb=0, pack_lb=100)
    client = signed_in(office)
    page = client.get(reverse("buying"), {"weeks": 4}).text
    assert "is one purchase for all weeks: how much its storage takes is not entered" in page
    with pytest.raises(NotAllowed):
        save_storage(acting_user=plant_worker, stock=salt, most_lb=2500)
    client.post(reverse("stock_storage", args=["SALT"]), {"most_lb": "2500"})
    salt_now = buying(today(), 4).of_stock("SALT")
    assert len(salt_now.parts) > 1
    rows = list_of(client)
    assert [row["pounds"] for row in rows] == [f"{each.lb:.0f}" for each in salt_now.parts]
    assert sum(int(row["pounds"]) for row in rows) == 2000
    assert {row["storage_lb"] for row in rows} == {"2500"}
    html = client.get(reverse("purchase_list"), {"weeks": 4}).text
    paper = " ".join(
        text_of(client.get(reverse("purchase_list_pdf"), {"weeks": 4}).content).split()
    )
    for row in rows:
        for text in (html, paper):
            assert f"Purchase {row['purchase']} of {len(rows)}" in text
            assert f"{int(row['pounds']):,}" in text
            assert f"${float(row['total']):,.2f}" in text
    stock = client.get(reverse("buying_stock", args=["SALT"]), {"weeks": 4}).text
    assert f"{salt_now.parts[0].lb:,.0f} lb, here" in stock
