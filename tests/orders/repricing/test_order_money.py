"""What an order earns, to the cent and to the office; of which day's costs a frozen figure is."""

from collections.abc import Mapping
from datetime import date, timedelta
from decimal import Decimal
from importlib import import_module
from typing import Any

from django.apps import apps
from django.utils import timezone

from blendshop.accounts.models import User
from blendshop.money import money, unit_price
from formulas.models import BaseStock
from formulas.stocks.actions.shipped import StockPrice, set_stock_costs
from orders.models import Batch, Charge, Order, Quote, QuoteEvent, StockLot
from orders.pricing import StepCode
from orders.production.actions.batches import mark_made
from orders.repricing.actions import reprice_here
from orders.repricing.order_money import order_money
from tests.formulas.stocks.sure import surely
from tests.orders.planning.plant_cases import accepted_order
from tests.orders.production.charging_cases import charge_all

PRICED_ON = date(2026, 11, 27)
AT_COSTS_OF = "at the costs of Nov 27, 2026"


def costs_per_lb() -> dict[str, Decimal]:
    today = timezone.localdate()
    stocks = BaseStock.objects.prefetch_related("costs")
    return {row.code: cost.per_lb() for row in stocks if (cost := row.cost_on(today)) is not None}


def test_an_order_earns_by_what_was_weighed_at_what_its_lots_cost_when_they_came_in(
    order: Order,
    batch: Batch,
    lots: Mapping[str, StockLot],
    office: User,
    plant_worker: User,
) -> None:
    today, before = timezone.localdate(), costs_per_lb()
    quoted = order_money(order, today)
    assert quoted.made is None
    assert quoted.today is not None
    assert quoted.today.margin == quoted.quoted.margin
    [line] = order.lines.all()
    assert quoted.quoted.margin == line.price_breakdown.amount(StepCode.MARGIN)
    StockLot.objects.update(received_on=today - timedelta(days=3))
    doubled = {code: StockPrice(unit_price(2 * cost), "lb") for code, cost in before.items()}
    surely(set_stock_costs, acting_user=office, costs=doubled, effective_from=today)
    charge_all(batch, lots, plant_worker)
    mark_made(batch=batch, acting_user=plant_worker)
    found = order_money(order, today)
    assert found.is_made_whole
    assert found.made is not None
    assert found.today is not None
    weighed = sum(
        charge.mass_lb * before[charge.stock.code] * (2 if charge.lot is None else 1)
        for charge in Charge.objects.filter(batch=batch).select_related("stock", "lot")
    )  # what came from the main was bought on the day
    assert found.made.material == money(weighed)
    assert found.made.margin == quoted.quoted.margin - (money(weighed) - found.quoted.material)
    assert found.today.material == 2 * found.quoted.material
    assert found.today.margin < found.quoted.margin
    assert found.is_below_floor


def test_the_office_and_the_formulator_see_what_an_order_earns_and_nobody_else(
    order: Order,
    office: User,
    formulator: User,
    rep: User,
    plant_worker: User,
    customer: User,
    signed_in: Any,
) -> None:
    said = "What it earns"
    pages = {
        str(user): signed_in(user).get(f"/orders/{order.number}/").content.decode()
        for user in (office, formulator, rep, plant_worker, customer)
    }
    assert {who for who, page in pages.items() if said in page} == {str(office), str(formulator)}
    earned = f"{order_money(order, timezone.localdate()).quoted.pct:.2f}"
    assert earned in pages[str(office)]
    assert all(earned not in pages[str(user)] for user in (plant_worker, customer))


def test_a_frozen_figure_says_of_which_day_s_costs_it_is(
    shop: None, rep: User, company: Any, office: User, customer: User, signed_in: Any
) -> None:
    order = accepted_order(rep, company)
    Quote.objects.update(priced_on=PRICED_ON)
    quote = order.quote
    assert quote is not None
    for address in (f"/quotes/{quote.number}/", "/quotes/", f"/orders/{order.number}/"):
        assert AT_COSTS_OF in signed_in(office).get(address).content.decode(), address
        assert AT_COSTS_OF not in signed_in(customer).get(address).content.decode(), address
    Quote.objects.update(status="sent")
    reprice_here()
    page = signed_in(office).get("/open-quotes/").content.decode()
    assert AT_COSTS_OF in page
    assert f"at the costs of {timezone.localdate():%b} {timezone.localdate().day}, " in page


def test_a_quote_of_before_says_the_day_it_was_priced_last(
    shop: None, rep: User, company: Any
) -> None:
    quote = accepted_order(rep, company).quote
    assert quote is not None
    Quote.objects.update(priced_on=None)
    import_module("orders.migrations.0022_quote_priced_on").say_when_priced(apps, None)
    quote.refresh_from_db()
    priced = QuoteEvent.objects.get(quote=quote, to_status="sent")
    assert quote.priced_on == timezone.localdate(priced.at)
