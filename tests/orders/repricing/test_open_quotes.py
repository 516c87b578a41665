"""Open quotes held at their prices while costs move: every step to the cent, by either road."""

from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.core.management import call_command
from django.utils import timezone

from blendshop.accounts.models import User
from blendshop.long_work.models import LongWork
from blendshop.money import money, unit_price
from formulas.engine_bridge import load_catalogue
from formulas.models import BaseStock, Repricing, RevisionCost
from formulas.repricing.actions import costs_of_now
from formulas.stocks.actions.shipped import StockPrice, set_stock_costs
from orders.models import Package, Quote, QuoteMargin
from orders.pricing import StepCode
from orders.quoting.actions import quotes as actions
from orders.quoting.draft_prices import DraftLine, draft_lines_of, price_draft
from orders.quoting.terms import terms_for
from orders.repricing.actions import reprice_here, reprice_if_changed, reprice_quotes
from orders.repricing.held_price import held_price
from tests.factories import CustomerTermsFactory, PackageFactory, PriceTierFactory
from tests.formulas.stocks.sure import surely
from tests.jobs.queue_cases import run_due
from tests.orders.quoting.conftest import draft, sent, world

__all__ = ["draft", "sent", "world"]  # fixtures


def raise_costs(office: User, by: str) -> None:
    """All stocks alike, so that the plan of a load stays the cheapest one."""
    today = timezone.localdate()
    costs = {
        stock.code: StockPrice(unit_price(entry.per_lb() * Decimal(by)), "lb")
        for stock in BaseStock.objects.for_engine()
        if (entry := stock.cost_on(today)) is not None
    }
    surely(set_stock_costs, acting_user=office, costs=costs, effective_from=today)


def steps(prices: Any) -> list[dict[StepCode, Decimal]]:
    return [{step.code: step.amount for step in price.steps} for price in prices]


def test_while_nothing_changes_a_quote_earns_what_it_was_quoted_with(sent: Quote) -> None:
    reprice_here()
    margin = QuoteMargin.objects.get(quote=sent)
    [line] = margin.then_and_now.lines
    assert [(step.then, step.now) for step in line.steps] == [
        (step.then, step.then) for step in line.steps
    ]
    assert margin.margin_pct_now == margin.margin_pct_then
    assert margin.margin_now == margin.margin_then > 0
    assert not margin.is_below_floor


def test_new_costs_are_those_of_a_whole_new_price_and_the_margin_is_what_is_left(
    world: dict[str, Any], office: User, company: Any
) -> None:
    tier = PriceTierFactory(
        name="Contractor", is_default=False, margin_pct=Decimal(30), floor_pct=Decimal(24)
    )
    CustomerTermsFactory(company=company, tier=tier)
    tote = Package.objects.get()
    drum = PackageFactory(code="drum", kind="drum", fill_gal=Decimal(55), deposit=Decimal(0))
    asked = [
        DraftLine(revision=world["revision"], package=package, quantity=quantity)
        for package, quantity in ((tote, 2), (drum, 7))
    ]
    quote = actions.draft_quote(
        acting_user=world["rep"],
        company=company,
        ship_to=world["ship_to"],
        lines=asked,
        validity_days=30,
    )
    actions.send_quote(quote=quote, acting_user=world["rep"])
    raise_costs(office, "1.37")
    reprice_here()
    today = timezone.localdate()
    lines = list(quote.lines.select_related("package", "revision__blend"))
    anew = price_draft(
        draft_lines_of(lines), company=company, ship_to=quote.ship_to, today=today
    ).price
    one_by_one = held_price(
        lines,
        terms_for(company=company, ship_to=quote.ship_to, today=today),
        load_catalogue(today, include_short=True),
    )
    margin = QuoteMargin.objects.get(quote=quote)
    stored = [{step.code: step.now for step in line.steps} for line in margin.then_and_now.lines]
    assert stored == steps(one_by_one.lines)
    for held, new, line in zip(stored, steps(anew.lines), lines, strict=True):
        costs = set(new) - {StepCode.MARGIN}
        assert {code: held[code] for code in costs} == {code: new[code] for code in costs}
        assert held[StepCode.MATERIAL] > line.price_breakdown.amount(StepCode.MATERIAL)
        spent = sum(held[code] for code in costs - {StepCode.DEPOSIT})
        assert held[StepCode.MARGIN] == line.line_total - spent
    assert margin.margin_now == sum(held[StepCode.MARGIN] for held in stored)
    total = sum(line.line_total for line in lines)
    assert money(margin.margin_pct_now) == money(100 * margin.margin_now / total)
    assert margin.margin_pct_now < margin.floor_pct == 24
    assert margin.is_below_floor
    assert "office must approve" in (margin.then_and_now.lines[0].below_floor or "")


def test_only_prices_that_stand_are_held(draft: Quote, rep: User) -> None:
    reprice_here()
    assert not QuoteMargin.objects.exists()  # a draft is priced anew when it is sent
    actions.send_quote(quote=draft, acting_user=rep)
    Quote.objects.update(valid_until=timezone.localdate() - timedelta(days=1))
    assert reprice_here().quotes == 0


def test_a_quote_of_a_stock_without_a_cost_says_so(sent: Quote, signed_in, office) -> None:
    uan = BaseStock.objects.get(code="UAN")
    uan.costs.all()._raw_delete(using="default")
    reprice_here()
    assert uan.name in QuoteMargin.objects.get(quote=sent).problem
    assert "has no cost today" in signed_in(office).get("/open-quotes/").content.decode()


def test_new_costs_reprice_everything_once_behind_the_page(
    sent: Quote, office: User, signed_in, settings, tmp_path
) -> None:
    settings.MEDIA_ROOT = tmp_path
    run_due()
    LongWork.objects.all().delete()
    raise_costs(office, "1.5")
    raise_costs(office, "2")
    [work] = LongWork.objects.all()  # the one that waits sees the second change too
    client = signed_in(office)
    assert f"/jobs/{work.pk}/" in client.get("/stocks/costs/").content.decode()
    run_due()
    work.refresh_from_db()
    assert work.says == "1 blend and 1 open quote repriced; 1 quote is below the floor."
    page = client.get("/stocks/costs/").content.decode()
    assert work.says in page
    assert "/open-quotes/" in page
    assert client.get(f"/jobs/{work.pk}/").url == "/open-quotes/"
    [row] = client.get("/open-quotes/").context["page"].object_list
    assert (row.quote, row.is_below_floor) == (sent, True)
    assert RevisionCost.objects.get().state == Repricing.objects.first().state
    assert not reprice_if_changed()
    # The back office writes a cost past all actions, or a day begins.
    BaseStock.objects.filter(code="UAN").update(short=True)
    assert reprice_if_changed()
    assert not reprice_if_changed()


def test_the_command_does_it_at_once(sent: Quote, capsys: pytest.CaptureFixture[str]) -> None:
    call_command("reprice_all")
    assert "1 blend and 1 open quote repriced; 0 quotes are below" in capsys.readouterr().out


def test_many_quotes_take_as_many_queries_as_few(
    sent: Quote, world: dict[str, Any], django_assert_num_queries
) -> None:
    def more(count: int) -> None:
        for _ in range(count):
            quote = actions.draft_quote(
                acting_user=world["rep"],
                company=world["company"],
                ship_to=world["ship_to"],
                lines=[
                    DraftLine(revision=world["revision"], package=Package.objects.get(), quantity=2)
                ],
                validity_days=30,
            )
            actions.send_quote(quote=quote, acting_user=world["rep"])

    costs = costs_of_now(timezone.localdate())
    reprice_quotes(0, 10**9, costs)
    asked = 10
    with django_assert_num_queries(asked):
        assert reprice_quotes(0, 10**9, costs) == 1
    more(4)
    with django_assert_num_queries(asked):
        assert reprice_quotes(0, 10**9, costs) == 5
