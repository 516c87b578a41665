"""New costs: written down, what they do to the cent, acted on, in force; one figure all over."""

import csv
import io
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.utils import timezone

from blendshop.accounts.models import User
from blendshop.errors import BadInput, IllegalMove, NotAllowed
from blendshop.long_work.models import LongWork
from blendshop.money import unit_price
from blendshop.outbox.models import Mail
from formulas.models import BaseStock, StockCost
from formulas.stocks.cost_table import CostTable
from orders.cost_change.actions.impact import work_out_impact
from orders.cost_change.actions.proposing import NewCost, put_in_force, write_down_costs
from orders.cost_change.actions.quotes import Deed, act_on_quote
from orders.cost_change.impact_state import shown_impact
from orders.models import CostChange, Package, Quote, QuoteImpact, QuoteMargin
from orders.pricing import StepCode
from orders.quoting.actions import quotes as actions
from orders.quoting.draft_prices import DraftLine
from tests.factories import BaseStockFactory
from tests.formulas.stocks.sure import surely
from tests.jobs.queue_cases import run_due
from tests.orders.inventory.stock_cases import make_lot
from tests.orders.quoting.conftest import draft, sent, world

__all__ = ["draft", "sent", "world"]  # fixtures


@pytest.fixture(autouse=True)
def files_of_the_test(settings: Any, tmp_path: Any) -> None:
    settings.MEDIA_ROOT = tmp_path


def written(office: User, **costs: str) -> CostChange:
    """New costs per lb by stock code."""
    return write_down_costs(
        acting_user=office,
        name="Letter of December",
        costs={code: NewCost(Decimal(cost), "lb") for code, cost in costs.items()},
    )


def worked_out(office: User, change: CostChange) -> Any:
    work_out_impact(change=change, acting_user=office)
    run_due()
    return shown_impact(change)


def sent_again(world: dict[str, Any], quantity: int = 2) -> Quote:
    """Another quote of the same blend, out."""
    quote = actions.draft_quote(
        acting_user=world["rep"],
        company=world["company"],
        ship_to=world["ship_to"],
        lines=[
            DraftLine(revision=world["revision"], package=Package.objects.get(), quantity=quantity)
        ],
        validity_days=30,
    )
    actions.send_quote(quote=quote, acting_user=world["rep"])
    return quote


def test_page_table_open_quotes_and_a_fresh_quote_say_the_same_to_the_cent(
    sent: Quote, world: dict[str, Any], office: User, signed_in: Any
) -> None:
    then = QuoteMargin  # what the repricing of the costs in force writes
    change = written(office, UAN="0.35")
    impact = worked_out(office, change)
    [held] = QuoteImpact.objects.filter(impact=impact)
    assert held.quote == sent
    assert held.is_below_floor
    assert held.lost == held.margin_then - held.margin_now > 0
    assert not then.objects.exists()  # nothing of it is in force
    before = BaseStock.objects.get(code="UAN").cost_on(timezone.localdate())
    assert before is not None
    assert before.amount != Decimal("0.35")

    client = signed_in(office)
    page = client.get(f"/new-costs/{change.pk}/").content.decode()
    assert f"{held.margin_pct_now:.2f}" in page
    assert f"{held.margin_pct_then:.2f}" in page
    table = client.get(f"/new-costs/{change.pk}/quotes.csv").content.decode("utf-8-sig")
    [row] = csv.DictReader(io.StringIO(table))
    assert Decimal(row["margin_at_new_costs"]) == held.margin_now
    assert Decimal(row["margin_pct_at_new_costs"]) == held.margin_pct_now
    assert row["at_costs_of"] == timezone.localdate().isoformat()

    surely(put_in_force, acting_user=office, change=change, on=timezone.localdate())
    run_due()
    margin = then.objects.get(quote=sent)
    for name in ("margin_then", "margin_now", "margin_pct_then", "margin_pct_now", "floor_pct"):
        assert getattr(margin, name) == getattr(held, name), name
    assert margin.is_below_floor
    assert f"{held.margin_pct_now:.2f}" in client.get("/open-quotes/").content.decode()

    fresh = actions.draft_quote(
        acting_user=world["rep"],
        company=world["company"],
        ship_to=world["ship_to"],
        lines=[DraftLine(revision=world["revision"], package=Package.objects.get(), quantity=2)],
        validity_days=30,
    )
    [line], [line_then] = fresh.lines.all(), sent.lines.all()
    costs = {
        step.code: step.amount
        for step in line.price_breakdown.steps
        if step.code not in (StepCode.MARGIN, StepCode.DEPOSIT)
    }
    assert line_then.line_total - sum(costs.values()) == held.margin_now
    [blend] = client.get(f"/new-costs/{change.pk}/?show=blends").context["page"].object_list
    # Half of it is the stock that rises; the blend weighs 10 lb a gallon.
    assert blend.row.rise_per_gal == unit_price(
        Decimal(10) * (Decimal("0.35") - before.per_lb()) / 2
    )


def test_drafts_quotes_and_what_is_closed(
    sent: Quote, world: dict[str, Any], office: User, rep: User, signed_in: Any
) -> None:
    asked = actions.draft_quote(
        acting_user=rep,
        company=world["company"],
        ship_to=world["ship_to"],
        lines=[DraftLine(revision=world["revision"], package=Package.objects.get(), quantity=1)],
        validity_days=30,
    )
    change = written(office, UAN="0.35")
    impact = worked_out(office, change)
    found = QuoteImpact.objects.filter(impact=impact).order_by("-lost")
    assert [row.quote for row in found] == [sent, asked]
    actions.withdraw_quote(quote=sent, acting_user=rep, why="Too dear.")
    context = signed_in(rep).get(f"/new-costs/{change.pk}/").context  # a rep may look
    assert [row.held.quote for row in context["page"].object_list] == [asked]
    assert (context["quotes"].count, context["is_current"]) == (1, False)
    assert context["may_change"] is context["may_act"] is False


def test_each_quote_is_done_whole_or_refused_by_its_name(
    sent: Quote, world: dict[str, Any], office: User, rep: User, customer: User, signed_in: Any
) -> None:
    second, third = sent_again(world), sent_again(world, 3)
    change = written(office, UAN="0.35")
    worked_out(office, change)
    client = signed_in(office)
    to = f"/new-costs/{change.pk}/quotes/"
    numbers = [sent.number, second.number]
    shown = client.post(to, {"deed": "withdraw", "quote": numbers})
    assert "Withdraw 2 quotes" in shown.content.decode()
    whole_list = client.post(to, {"deed": "withdraw", "all": "below"})
    assert len(whole_list.context["quotes"]) == 3
    assert Quote.objects.filter(status="sent").count() == 3
    assert (
        client.post(to, {"deed": "withdraw", "quote": numbers, "confirmed": "yes"}).status_code
        == 400
    )
    confirmed = {
        "deed": "withdraw",
        "quote": numbers,
        "words": "Costs have risen.",
        "confirmed": "yes",
        "once": shown.context["once"],
    }
    actions.decline_quote(quote=second, acting_user=rep, name="Casey")
    work = client.post(to, confirmed).url
    assert client.post(to, confirmed).url == work  # pressed twice, begun once
    run_due()
    done = client.get(client.get(work).url)
    assert [each["quote"] for each in done.context["done"]] == [sent.number]
    [refused] = done.context["refused"]
    assert refused["quote"] == second.number
    assert "declined" in refused["says"]
    sent.refresh_from_db()
    assert sent.status == Quote.Status.VOID

    # Drafted anew at costs that are not in force yet.
    drafted = act_on_quote(
        deed=Deed.DRAFT, quote=third, change=change, acting_user=office, words=""
    )
    newer = third.next_version
    assert newer is not None
    assert newer.number in drafted
    [line] = newer.lines.all()
    uan = next(each for each in line.price_breakdown.material if each.code == "UAN")
    assert uan.cost_per_lb == Decimal("0.35")
    assert newer.total > third.total
    assert newer.at_costs_of is None  # of no day: these costs are not in force
    assert (
        "at new costs that were not in force"
        in client.get(f"/quotes/{newer.number}/").content.decode()
    )
    with pytest.raises(IllegalMove, match=newer.number):
        act_on_quote(deed=Deed.DRAFT, quote=third, change=change, acting_user=office, words="")

    Mail.objects.all().delete()
    preview = client.post(to, {"deed": "mail", "quote": [third.number]})
    [(quote, addresses, _subject, text)] = preview.context["mails"]
    words = preview.context["words"]
    assert (quote, addresses) == (third, [customer.email])
    act_on_quote(deed=Deed.MAIL, quote=third, change=change, acting_user=office, words=words)
    mail = Mail.objects.get()
    assert (mail.to, mail.text) == (customer.email, text)
    with pytest.raises(IllegalMove, match="mailed already"):
        act_on_quote(deed=Deed.MAIL, quote=third, change=change, acting_user=office, words=words)
    with pytest.raises(NotAllowed):
        act_on_quote(deed=Deed.MAIL, quote=third, change=change, acting_user=rep, words=words)


def test_costs_come_in_force_once_today_or_later(office: User, rep: User, world: Any) -> None:
    change, today = written(office, UAN="0.35"), timezone.localdate()
    with pytest.raises(BadInput, match="today or later"):
        surely(put_in_force, acting_user=office, change=change, on=today - timedelta(days=1))
    with pytest.raises(NotAllowed):
        surely(put_in_force, acting_user=rep, change=change, on=today)
    stale = CostChange.objects.get(pk=change.pk)
    written_again = write_down_costs(
        acting_user=office,
        name=change.name,
        costs={"UAN": NewCost(Decimal("0.36"), "lb")},
        change=change,
    )
    assert written_again.version == 2
    with pytest.raises(Exception, match="meanwhile"):
        surely(put_in_force, acting_user=office, change=stale, on=today)
    later = today + timedelta(days=9)
    surely(put_in_force, acting_user=office, change=written_again, on=later)
    uan = BaseStock.objects.get(code="UAN")
    assert uan.cost_on(today).amount != Decimal("0.36")
    assert uan.cost_on(later).amount == Decimal("0.36")
    with pytest.raises(IllegalMove):
        surely(put_in_force, acting_user=office, change=written_again, on=later)
    assert StockCost.objects.filter(stock=uan, effective_from=later).count() == 1


def sheet(name: str = "Letter", **rows: str) -> dict[str, Any]:
    return {"name": name, "rows": "6", **rows}


def test_costs_are_typed_said_as_a_percentage_or_brought_as_a_file(
    sent: Quote, office: User, signed_in: Any
) -> None:
    client, today = signed_in(office), timezone.localdate()
    uan = BaseStock.objects.get(code="UAN").cost_on(today)
    urea = BaseStockFactory(code="U40", cost_per_lb="0.2000")
    letter = (
        "code,field,value,unit\nWATER,cost,12,%\nUAN,cost,x,lb\nNONE,cost,1,lb\nUAN,name,UAN,\n"
    )
    typed = {"row1-stock": "U40", "row1-by_pct": "15", "row2-stock": "UAN", "row2-amount": "0.4"}
    refused = client.post(
        "/new-costs/new/",
        {**sheet(**typed), "letter": SimpleUploadedFile("a.csv", letter.encode())},
    )
    page = refused.content.decode()
    assert refused.status_code == 400
    for line, word in ((3, "not an amount"), (4, "no stock NONE"), (5, "no cost")):
        assert f"Line {line}: " in page
        assert word in page
    assert not CostChange.objects.exists()
    letter = "code;field;value;unit\nWATER;cost;0.01;lb\nU40;cost;9;lb\n"
    client.post(
        "/new-costs/new/",
        {**sheet(**typed), "letter": SimpleUploadedFile("a.csv", letter.encode())},
    )
    costs = {cost.stock.code: cost for cost in CostChange.objects.get().costs.all()}
    assert {code: str(cost.amount) for code, cost in costs.items()} == {
        "U40": "0.2300",  # typed goes before the file
        "UAN": "0.4000",
        "WATER": "0.0100",
    }
    assert costs["U40"].by_pct == 15
    assert costs["UAN"].unit == uan.unit  # as it is bought
    assert costs["U40"].was_amount == urea.cost_on(today).amount
    for wrong in (
        {"row1-stock": "U40"},
        {"row1-amount": "1"},
        {"row1-stock": "U40", "row1-amount": "1", "row1-by_pct": "3"},
        {"row1-stock": "U40", "row1-amount": "1", "row2-stock": "U40", "row2-amount": "2"},
    ):
        assert client.post("/new-costs/new/", sheet(**wrong)).status_code == 400
    more = client.post("/new-costs/new/", sheet(**{**typed, "do": "more"})).content.decode()
    assert 'name="row10-amount"' in more
    assert 'value="15"' in more
    assert 'value="Letter"' in more  # nor is the name lost
    assert "This field is required" not in more


def test_what_lies_in_the_plant_counts_at_what_it_cost_when_it_came_in(
    sent: Quote, office: User, plant_worker: User, signed_in: Any
) -> None:
    uan = BaseStock.objects.get(code="UAN")
    lot = make_lot(uan, plant_worker)
    before = uan.cost_on(date.today()).per_lb()  # noqa: DTZ011
    change = written(office, UAN="0.35")
    worked_out(office, change)
    [row] = signed_in(office).get(f"/new-costs/{change.pk}/?show=stocks").context["stocks"]
    assert row.on_hand_lb == lot.on_hand_lb
    assert row.paid == round(lot.on_hand_lb * before, 2)
    assert row.spared == round(lot.on_hand_lb * Decimal("0.35"), 2) - row.paid


def test_a_cheaper_recipe_at_the_new_costs_is_named_with_what_changes(
    sent: Quote, office: User, signed_in: Any
) -> None:
    BaseStockFactory(code="U46", name="urea prills", analysis={"N.urea": 46.0}, cost_per_lb="0.40")
    change = written(office, UAN="2.00")
    impact = worked_out(office, change)
    [better] = impact.better_recipes.better
    assert better.best_cost_per_gal < better.saved_cost_per_gal
    shares = {share.code: (share.saved_pct, share.best_pct) for share in better.shares}
    assert shares["UAN"] == (50.0, 0.0)
    # 16 % N of a stock of 46 % N: 100 * 16 / 46.
    assert shares["U46"][1] == pytest.approx(100 * 16 / 46, abs=0.01)
    assert (
        "urea prills"
        in signed_in(office).get(f"/new-costs/{change.pk}/?show=recipes").content.decode()
    )


def test_it_is_worked_out_once_while_nothing_changes_and_anew_afterwards(
    sent: Quote, world: dict[str, Any], office: User
) -> None:
    change = written(office, UAN="0.35")
    first = work_out_impact(change=change, acting_user=office)
    assert work_out_impact(change=change, acting_user=office) == first
    run_due()
    assert work_out_impact(change=change, acting_user=office) == first
    sent_again(world)
    second = worked_out(office, change)
    assert second != first
    assert QuoteImpact.objects.filter(impact=second).count() == QuoteImpact.objects.count() == 2
    assert LongWork.objects.filter(kind="cost-impact").count() == 2


def test_what_is_typed_into_the_table_of_costs_is_looked_at_and_not_saved(
    office: User, world: dict[str, Any], signed_in: Any
) -> None:
    """Costs with no look at them are the table's own business; a look at them is this room's."""
    stock = BaseStock.objects.filter(costs__isnull=False).first()
    assert stock is not None
    before = StockCost.objects.count()
    other = BaseStock.objects.filter(costs__isnull=False).exclude(pk=stock.pk)[0]
    stands = other.costs.all()[0]
    row = {f"{stock.code}-amount": "0.6789", f"{stock.code}-unit": "lb"}
    day = {"effective_from": timezone.localdate().isoformat()}
    others = {
        f"{row.code}-unit": row.form.initial["unit"] for row in CostTable(timezone.localdate()).rows
    }
    answer = signed_in(office).post(
        "/new-costs/from-table/", others | row | day | {f"{other.code}-amount": str(stands.amount)}
    )
    change = CostChange.objects.get()
    assert answer.status_code == 302
    assert LongWork.objects.filter(kind="cost-impact").exists()
    assert [(cost.stock, cost.per_lb()) for cost in change.costs.all()] == [
        (stock, Decimal("0.6789"))
    ]
    assert StockCost.objects.count() == before
    unknown = others | day | {"NBPT25-amount": "12"}
    refused = signed_in(office).post("/new-costs/from-table/", unknown)
    assert refused.status_code == 400
    assert "not in the catalogue yet" in refused.content.decode()
