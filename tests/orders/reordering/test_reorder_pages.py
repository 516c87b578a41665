"""The pages of a reorder: one click, changed prices and recipes, who may open them."""

import re

from django.urls import reverse

from blendshop.accounts.models import Company
from formulas.blends.actions import save_blend
from formulas.models import BaseStock
from orders.models import Order, Quote
from tests.factories import today
from tests.orders.planning.plant_cases import WISH, save_half_slow
from tests.orders.reordering.reorder_cases import know_what_is_dissolved, new_cost


def hidden(html):
    return dict(re.findall(r'<input type="hidden" name="(\w+)" value="([^"]*)"', html))


def test_the_customer_reorders_an_order_with_one_click(order, customer, signed_in):
    client, url = signed_in(customer), reverse("reorder_order", args=[order.number])
    html = client.get(url).content.decode()
    assert "Price per gal unchanged" in html
    assert "Order now" in html
    fields = hidden(html.split("<main", 1)[1])
    for _ in range(2):  # the second click of a double click
        answer = client.post(url, fields)
        assert answer.status_code == 302
    made = Order.objects.exclude(pk=order.pk).get()
    assert answer.url == reverse("order_detail", args=[made.number])


def test_a_price_that_moved_is_shown_again_and_can_then_be_confirmed(order, customer, signed_in):
    client, url = signed_in(customer), reverse("reorder_order", args=[order.number])
    seen = hidden(client.get(url).content.decode().split("<main", 1)[1])
    new_cost("TRZ", "0.4600")
    again = client.post(url, seen)
    html = again.content.decode()
    assert again.status_code == 409
    assert "has changed since it was shown" in html
    assert "mainly urea-triazone solution" in html
    assert Order.objects.count() == 1
    assert client.post(url, hidden(html.split("<main", 1)[1])).status_code == 302
    assert Order.objects.count() == 2


def test_a_saved_blend_is_reordered_on_its_last_terms(order, customer, signed_in):
    blend = order.lines.get().revision.blend
    client, url = signed_in(customer), reverse("reorder_blend", args=[blend.pk])
    html = client.get(url).content.decode()
    assert html.count("<h1") == 1
    answer = client.post(url, hidden(html.split("<main", 1)[1]))
    assert answer.status_code == 302
    made = Order.objects.exclude(pk=order.pk).get()
    assert made.total == order.total


def test_a_saved_blend_is_priced_in_other_quantities(order, customer, signed_in):
    line = order.lines.get()
    client, url = signed_in(customer), reverse("reorder_blend", args=[line.revision.blend.pk])
    query = {"package": line.package_id, "quantity": 1, "ship_to": order.ship_to_id}
    html = client.get(url, query).content.decode()
    assert "1 × 265 gal tote" in html
    assert "up from" in html
    bad = client.get(url, {**query, "quantity": 0}).content.decode()
    assert "Order now" not in bad


def test_a_rep_chooses_the_place_for_a_plant_book_blend_and_drafts_a_quote(order, rep, signed_in):
    revision = save_half_slow(rep, None, "House blend")
    client, url = signed_in(rep), reverse("reorder_blend", args=[revision.blend.pk])
    first = client.get(url).content.decode()
    assert "Draft a quote" not in first
    assert "is-invalid" not in first, "nobody has filled in anything yet"
    line = order.lines.get()
    query = {"package": line.package_id, "quantity": 3, "ship_to": order.ship_to_id}
    html = client.get(url, query).content.decode()
    answer = client.post(url, hidden(html.split("<main", 1)[1]))
    quote = Quote.objects.get()
    assert answer.url == reverse("quote_detail", args=[quote.number])
    assert quote.lines.get().quantity == 3


def test_a_newer_revision_than_the_one_ordered_is_mentioned(order, rep, customer, signed_in):
    blend = order.lines.get().revision.blend
    save_blend(acting_user=rep, name="", company=None, wish=WISH, today=today(), blend=blend)
    url = reverse("reorder_order", args=[order.number])
    assert "newer revision 2" in signed_in(customer).get(url).content.decode()
    of_blend = signed_in(customer).get(reverse("reorder_blend", args=[blend.pk]))
    assert "newer revision" not in of_blend.content.decode(), "the blend starts from its newest"


def test_out_of_reach_and_recipe_changes_stand_on_the_page(
    order, customer, signed_in, spare_slow_stock
):
    client, url = signed_in(customer), reverse("reorder_order", args=[order.number])
    BaseStock.objects.filter(code="TRZ").update(short=True)
    html = client.get(url).content.decode()
    assert "The recipe has to change" in html
    assert "methylene-urea solution comes in." in html
    assert "comes in at" not in html, "the share is the plant's own"
    Company.objects.update(sees_recipe=True)
    html = client.get(url).content.decode()
    assert "methylene-urea solution comes in at" in html
    BaseStock.objects.filter(code="MUS").update(short=True)
    html = client.get(url).content.decode()
    assert "cannot be made today" in html
    assert "What could be had instead" in html
    assert "Order now" not in html


def test_a_stranger_and_the_plant_cannot_open_a_reorder(order, stranger, plant_worker, signed_in):
    blend = order.lines.get().revision.blend
    urls = [
        reverse("reorder_order", args=[order.number]),
        reverse("reorder_blend", args=[blend.pk]),
    ]
    for url in urls:
        assert signed_in(stranger).get(url).status_code == 404
        assert signed_in(plant_worker).get(url).status_code == 403


def test_the_page_shows_the_sentence(weak_order, rep, signed_in):
    know_what_is_dissolved()
    page = signed_in(rep).get(f"/orders/{weak_order.number}/reorder/").content.decode()
    assert "figured with a better density" in page
