"""One order followed to the end: its page, the figures and the file say the same cents."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from importlib import import_module
from typing import Any

from django.apps import apps
from django.utils import timezone

from blendshop.accounts.models import Company, User
from blendshop.figures.readers import reader
from formulas.models import BaseStock, BlendRevision
from formulas.stocks.actions.shipped import StockPrice, set_stock_costs
from orders.models import Batch, BatchPart, Charge, Order, OrderLine, ReversedCharge, StockLot
from orders.pricing import StepCode
from orders.production.actions.batches import mark_made
from orders.repricing.order_money import order_money
from tests.formulas.stocks.sure import surely
from tests.orders.planning.plant_cases import placed_order
from tests.orders.production.charging_cases import charge_all, new_key
from tests.orders.year_figures.year_cases import file_of


def test_an_order_has_the_same_cents_on_its_page_in_the_figures_and_in_the_file(
    order: Order,
    batch: Batch,
    revision: BlendRevision,
    company: Company,
    lots: Mapping[str, StockLot],
    rep: User,
    office: User,
    plant_worker: User,
    signed_in: Any,
) -> None:
    """Its load is shared with another order, was weighed twice at one step by mistake, and its
    costs moved between delivery and weighing, per ton, per pound and per gallon."""
    today = timezone.localdate()
    other = placed_order(rep, company, revision=revision, quantity=3)
    [part], [line] = batch.parts.all(), other.lines.all()
    third = replace(part.consignment, volume_gal=part.consignment.volume_gal / 3)
    BatchPart.objects.create(
        batch=batch, position=2, order_line=line, quantity=1, delivery=third.to_json()
    )
    StockLot.objects.update(received_on=today - timedelta(days=3))
    costs = {
        row.code: StockPrice(Decimal("123.4567") + n, unit)
        for n, (row, unit) in enumerate(
            zip(BaseStock.objects.order_by("code"), ["ton", "gal", "lb"] * 99, strict=False)
        )
    }
    surely(set_stock_costs, acting_user=office, costs=costs, effective_from=today)
    charge_all(batch, lots, plant_worker)
    charge = batch.charges.first()
    again = {"stock": charge.stock, "lot": charge.lot, "step": charge.step, "by": plant_worker}
    wrong = Charge.objects.create(batch=batch, mass_lb=777, key=new_key(), who="twice", **again)
    ReversedCharge.objects.create(charge=wrong, key=new_key(), who="twice", why="typed twice")
    mark_made(batch=batch, acting_user=plant_worker)

    client = signed_in(office)
    asked = {"question": "costs", "counted": "ordered", "by": "each"}
    rows = {row["Order"]: row for row in file_of(client, **asked)}
    page = client.get("/figures/", asked).content.decode()
    moneys = {each.number: order_money(each, today) for each in (order, other)}
    for number, money in moneys.items():
        assert money.made is not None
        assert money.made.material != money.quoted.material
        assert Decimal(rows[number]["Material as weighed"]) == money.made.material, number
        assert Decimal(rows[number]["Material quoted"]) == money.quoted.material
        assert Decimal(rows[number]["Margin left"]) == money.made.margin
        written = reader().money(money.made.material, "USD")
        assert written in page
        assert written in client.get(f"/orders/{number}/").content.decode()
    assert moneys[order.number].is_made_whole
    assert not moneys[other.number].is_made_whole
    [together] = file_of(client, question="costs", counted="ordered", by="customer")
    of_both = sum(money.made.material for money in moneys.values() if money.made)
    assert Decimal(together["Material as weighed"]) == of_both
    [margin] = file_of(client, question="margin", counted="ordered", by="customer")
    assert Decimal(margin["Margin"]) == sum(money.quoted.margin for money in moneys.values())


def test_a_line_keeps_two_figures_of_its_price_also_one_of_before(order: Order) -> None:
    line = order.lines.get()
    price = line.price_breakdown
    frozen = (price.amount(StepCode.MATERIAL), price.earned)
    assert (line.material, line.earned) == frozen
    assert line.material > 0
    steps = [replace(step, code=StepCode.DISCOUNT) for step in price.steps[:1]]
    given = replace(price, steps=(*price.steps, *steps), freight_tariff=Decimal("9999.99"))
    OrderLine.objects.update(price=given.to_json(), material=0, earned=0)
    migration = import_module("orders.migrations.0032_figures_of_a_year")
    migration.say_what_lines_earn(apps, None)
    line.refresh_from_db()
    assert (line.material, line.earned) == (frozen[0], given.earned)
    assert line.earned != frozen[1]
