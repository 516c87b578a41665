"""The page of the stock plan, for each role, with and without its button."""

from django.urls import reverse

from orders.allocation.page import stock_plan_page
from orders.models import AcceptedStockPlan, PlannedRecipe
from orders.planning.planned_recipes import making_revision
from tests.factories import ShipToFactory, today
from tests.orders.allocation.stock_plan_cases import (
    accept,
    changed_line,
    need,
    stock_up,
)
from tests.orders.planning.plant_cases import placed_order


def test_the_page_shows_the_change_in_words_and_accepts_by_its_button(
    scarce, formulator, signed_in
):
    client = signed_in(formulator)
    page = client.get(reverse("stock_plan"))
    text = page.content.decode()
    assert "Now, with another recipe" in text
    assert "strong urea solution, new in it" in text
    assert "$" in text
    digest = page.context["plan"].digest
    done = client.post(reverse("stock_plan_accept"), {"digest": digest}, follow=True)
    assert "Accepted as SP-" in done.content.decode()
    assert PlannedRecipe.objects.count() == 1


def test_a_stale_plan_is_shown_again(scarce, formulator, signed_in):
    answer = signed_in(formulator).post(reverse("stock_plan_accept"), {"digest": "old"})
    assert answer.status_code == 409
    assert "Nothing was accepted." in answer.content.decode()
    assert not AcceptedStockPlan.objects.exists()


def test_the_plant_reads_the_plan_without_costs_and_without_the_button(
    scarce, plant_worker, signed_in
):
    text = signed_in(plant_worker).get(reverse("stock_plan")).content.decode()
    assert "Now, with another recipe" in text
    assert "$" not in text
    assert "Accept this plan" not in text


def test_the_change_is_taken_back_on_the_page(scarce, formulator, signed_in):
    line = changed_line(stock_plan_page(today()))
    accept(formulator)
    client = signed_in(formulator)
    assert "Back to the accepted recipe" in client.get(reverse("stock_plan")).content.decode()
    url = reverse("stock_plan_take_back", args=[line.order.number, line.position])
    client.post(url, {"why": "UAN came in."})
    assert making_revision(line) == line.revision


def test_the_order_says_by_which_revision_it_is_made_and_the_customer_is_not_troubled(
    scarce, formulator, customer, signed_in
):
    line = changed_line(stock_plan_page(today()))
    accept(formulator)
    url = reverse("order_detail", args=[line.order.number])
    told = f"revision {making_revision(line).number}</a> of an accepted"
    assert told in signed_in(formulator).get(url).content.decode()
    seen = signed_in(customer).get(url).content.decode()
    assert "stock plan" not in seen.lower()


def test_the_plan_of_many_orders_takes_no_more_queries(
    revision, rep, company, formulator, django_assert_max_num_queries
):
    place = ShipToFactory(company=company)
    orders = [
        placed_order(rep, company, revision=revision, ship_to=place, quantity=1 + number % 5)
        for number in range(20)
    ]
    most = float(need(orders[0], "UAN")) * 30
    stock_up(formulator, UAN=most, TRZ=800_000, KAC=200_000, URE=800_000)
    with django_assert_max_num_queries(40):
        page = stock_plan_page(today())
    assert len(page.changed) > 5
