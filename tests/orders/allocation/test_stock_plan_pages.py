"""The page of the stock plan, for each role, with and without its button, current and not."""

from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from blendshop.long_work.models import LongWork
from formulas.jar_tests.actions import Jar, register_jar_test
from formulas.models import AnalysisFigure, BaseStock
from formulas.stocks.actions.stocks import record_cost
from orders.allocation.plan_state import plan_state
from orders.allocation.shown_plan import work_out_plan
from orders.models import AcceptedStockPlan, Order, PlannedRecipe, StockLot
from orders.planning.planned_recipes import making_revision
from tests.factories import ShipToFactory, today
from tests.formulas.stocks.sure import surely
from tests.jobs.queue_cases import run_due
from tests.orders.allocation.stock_plan_cases import (
    accept,
    changed_line,
    due,
    need,
    planned,
    stock_up,
)
from tests.orders.inventory.stock_cases import plan
from tests.orders.planning.plant_cases import placed_order


def shown(client: Client) -> str:
    return client.get(reverse("stock_plan")).content.decode()


def test_the_page_shows_the_change_in_words_and_accepts_by_its_button(
    scarce, formulator, signed_in
):
    planned(formulator)
    client = signed_in(formulator)
    page = client.get(reverse("stock_plan"))
    text = page.content.decode()
    assert "Now, with another recipe" in text
    assert "strong urea solution, new in it" in text
    assert "$" in text
    digest = page.context["page"].plan.digest
    done = client.post(reverse("stock_plan_accept"), {"digest": digest}, follow=True)
    assert "Accepted as SP-" in done.content.decode()
    assert PlannedRecipe.objects.count() == 1
    run_due()
    assert "Now</strong>, by the accepted plan" in shown(client)


def test_planning_is_a_workers_and_its_page_leads_back(scarce, formulator, signed_in):
    client = signed_in(formulator)
    assert "Plan now" in shown(client)
    begun = client.post(reverse("stock_plan_again"))
    assert not LongWork.objects.get().result
    assert "see how far it is" in shown(client)
    run_due()
    led = client.get(begun.headers["Location"])
    assert led.headers["Location"] == reverse("stock_plan")
    assert "nothing it depends on has changed since" in shown(client)
    assert client.post(reverse("stock_plan_again")).headers["Location"] == reverse("stock_plan")
    assert LongWork.objects.count() == 1


def _order_due_later(scarce, formulator):
    due(scarce[0], 30)


def _more_stock(scarce, formulator):
    stock_up(formulator, UAN=10)


def _a_lot_held(scarce, formulator):
    StockLot.objects.filter(stock__code="URE").update(state="held", held_reason="Cloudy.")


def _a_batch(scarce, formulator):
    plan(scarce[0], formulator)


def _another_cost(scarce, formulator):
    surely(
        record_cost,
        acting_user=formulator,
        stock=BaseStock.objects.get(code="URE"),
        amount=Decimal("0.4"),
        unit="lb",
        effective_from=today(),
        note="",
    )


def _another_figure(scarce, formulator):
    figure = AnalysisFigure.objects.get(stock__code="URE")
    figure.pct = 31.0
    figure.save()


def _a_trait_taken_away(scarce, formulator):
    BaseStock.objects.get(code="URE").traits.clear()


def _a_jar(scarce, formulator):
    parts = {BaseStock.objects.get(code="URE"): 1.0}
    jar = Jar(parts=parts, tested_on=today(), days=0, temperature_f=70, outcome="clear")
    register_jar_test(jar=jar, key="one", acting_user=formulator)


@pytest.mark.parametrize(
    "changes",
    [
        _order_due_later,
        _more_stock,
        _a_lot_held,
        _a_batch,
        _another_cost,
        _another_figure,
        _a_trait_taken_away,
        _a_jar,
    ],
)
def test_the_page_says_that_things_changed_since_and_takes_no_yes(
    changes, scarce, formulator, signed_in
):
    digest = planned(formulator).digest
    client = signed_in(formulator)
    assert "Accept this plan" in shown(client)
    changes(scarce, formulator)
    text = shown(client)
    assert "changed since" in text
    assert "Plan again" in text
    assert "Accept this plan" not in text
    assert client.post(reverse("stock_plan_accept"), {"digest": digest}).status_code == 409


def test_what_went_there_and_back_again_is_planned_anew(scarce, formulator):
    """The first question is asked again, and what it found is not the newest any more."""
    planned(formulator)
    before = scarce[0].due_on
    due(scarce[0], 30)
    planned(formulator)
    Order.objects.filter(pk=scarce[0].pk).update(due_on=before)
    assert planned(formulator).state == plan_state(today())


def test_a_stale_plan_is_shown_again(scarce, formulator, signed_in):
    planned(formulator)
    answer = signed_in(formulator).post(reverse("stock_plan_accept"), {"digest": "old"})
    assert answer.status_code == 409
    assert "Nothing was accepted." in answer.content.decode()
    assert not AcceptedStockPlan.objects.exists()


def test_the_plant_reads_the_plan_without_costs_and_without_the_button(
    scarce, plant_worker, signed_in
):
    planned(plant_worker)
    text = shown(signed_in(plant_worker))
    assert "Now, with another recipe" in text
    assert "$" not in text
    assert "Accept this plan" not in text


def test_the_change_is_taken_back_on_the_page(scarce, formulator, signed_in):
    line = changed_line(work_out_plan(today()))
    accept(formulator)
    planned(formulator)
    client = signed_in(formulator)
    assert "Back to the accepted recipe" in shown(client)
    url = reverse("stock_plan_take_back", args=[line.order.number, line.position])
    client.post(url, {"why": "UAN came in."})
    assert making_revision(line) == line.revision


def test_the_order_says_by_which_revision_it_is_made_and_the_customer_is_not_troubled(
    scarce, formulator, customer, signed_in
):
    line = changed_line(work_out_plan(today()))
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
        page = work_out_plan(today())
    assert len(page.changed) > 5


def test_the_page_of_many_orders_shows_the_first_due_and_leads_to_the_others(
    revision, rep, company, formulator, signed_in, monkeypatch, django_assert_max_num_queries
):
    monkeypatch.setattr("orders.allocation.page._ORDERS_A_PAGE", 2)
    monkeypatch.setattr("orders.allocation.page._MOST_STOCKS", 2)
    place = ShipToFactory(company=company)
    orders = [
        due(placed_order(rep, company, revision=revision, ship_to=place), days)
        for days in (5, 3, 4)
    ]
    stock_up(formulator, UAN=90_000, TRZ=10, KAC=90_000)
    planned(formulator)
    client = signed_in(formulator)
    with django_assert_max_num_queries(26):
        first = client.get(reverse("stock_plan"))
    assert [row.number for row in first.context["page"].orders] == [
        orders[1].number,
        orders[2].number,
    ]
    assert [row.code for row in first.context["page"].stocks] == ["TRZ", "KAC"]
    assert "1 more stock of the plan" in first.content.decode()
    second = client.get(reverse("stock_plan"), {"page": 2, "stocks": "all"})
    assert [row.number for row in second.context["page"].orders] == [orders[0].number]
    assert len(second.context["page"].stocks) == 3
