"""One stock rises by 15 %: every page, table, mail and answer says the same, to the cent."""

import csv
import io
import json
import re
from collections.abc import Iterator, Mapping
from decimal import Decimal
from typing import Any

import pytest
from django.db.models import F
from django.test import Client
from django.utils import timezone

from blendshop.accounts.models import Company, User
from blendshop.figures.readers import reader
from blendshop.money import money, unit_price
from blendshop.notices.models import Notice
from blendshop.outbox.models import Mail
from formulas.models import BaseStock, BlendRevision
from formulas.stocks.cost_table import CostTable
from orders.cost_change.actions.impact import work_out_impact
from orders.cost_change.actions.proposing import put_in_force
from orders.cost_change.actions.quotes import Deed, act_on_quote
from orders.frozen.line_price import LinePrice
from orders.models import (
    CostChange,
    Order,
    OrderImpact,
    Package,
    PricePolicy,
    PriceTier,
    QuoteImpact,
    QuoteLine,
)
from orders.price_desk.desk import PriceDesk
from orders.price_desk.preview import preview_of
from orders.pricing import StepCode
from orders.repricing.order_money import order_money
from tests.factories import ShipToFactory
from tests.jobs.queue_cases import run_due
from tests.orders.planning.plant_cases import WISH, sent_quote
from tests.orders.year_figures.year_cases import file_of

RISEN, BY_PCT = "UAN", Decimal(15)


@pytest.fixture(autouse=True)
def files_of_the_test(settings: Any, tmp_path: Any) -> None:
    settings.MEDIA_ROOT = tmp_path


def costs_per_lb() -> dict[str, Decimal]:
    today = timezone.localdate()
    stocks = BaseStock.objects.prefetch_related("costs")
    return {row.code: cost.per_lb() for row in stocks if (cost := row.cost_on(today)) is not None}


def by_hand(revision: BlendRevision, costs: Mapping[str, Decimal]) -> Decimal:
    """Dollars a gallon: shares of the recipe by weight, times its density, times what they cost."""
    density = Decimal(repr(revision.density_lb_per_gal))
    lines = revision.lines.select_related("stock")
    return unit_price(
        sum(
            (Decimal(repr(each.pct)) / 100 * density * costs[each.stock.code] for each in lines),
            Decimal(0),
        )
    )


def dollars(amount: Decimal) -> str:
    return reader().money(amount, "USD")


def fresh_cost(then: QuoteLine, now: LinePrice) -> Decimal:
    """By how much everything under the margin is dearer in a fresh price of the same line."""
    steps = (StepCode.MARGIN, StepCode.DEPOSIT)
    was = [step.amount for step in then.price_breakdown.steps if step.code not in steps]
    is_now = [step.amount for step in now.steps if step.code not in steps]
    return sum(is_now, Decimal(0)) - sum(was, Decimal(0))


def table_rows(client: Client, change: CostChange, table: str) -> Iterator[dict[str, str]]:
    text = client.get(f"/new-costs/{change.pk}/{table}.csv").content.decode("utf-8-sig")
    yield from csv.DictReader(io.StringIO(text))


def test_a_cost_that_rises_is_the_same_cents_on_every_paper(
    revision: BlendRevision,
    order: Order,
    company: Company,
    rep: User,
    office: User,
    customer: User,
    signed_in: Any,
) -> None:
    today = timezone.localdate()
    before = costs_per_lb()
    after = before | {RISEN: before[RISEN] * (1 + BY_PCT / 100)}
    old_per_gal, per_gal = by_hand(revision, before), by_hand(revision, after)
    assert per_gal > old_per_gal
    place = ShipToFactory(company=company)
    # So little above the floor that the rise brings it below.
    PriceTier.objects.update(floor_pct=F("margin_pct") - Decimal("0.2"))
    quote = sent_quote(rep, revision, place, quantity=4)
    client = signed_in(office)

    # Before it is in force: the impact, its page and its tables.
    sheet = {"name": "UAN +15 %", "rows": "6", "row1-stock": RISEN, "row1-by_pct": str(BY_PCT)}
    assert client.post("/new-costs/new/", sheet).status_code == 302
    change = CostChange.objects.get()
    work_out_impact(change=change, acting_user=office)
    run_due()
    per_lb = reader().unit_price(unit_price(after[RISEN]), "USD")
    assert per_lb in client.get(f"/new-costs/{change.pk}/?show=costs").content.decode()
    [blend] = table_rows(client, change, "blends")
    assert Decimal(blend["cost_per_gal_before"]) == old_per_gal
    assert Decimal(blend["cost_per_gal_at_new_costs"]) == per_gal
    page = client.get(f"/new-costs/{change.pk}/?show=blends").content.decode()
    assert reader().unit_price(per_gal, "USD") in page
    quoted, ordered = quote.lines.get(), order.lines.get()
    held_quote, held_order = QuoteImpact.objects.get(), OrderImpact.objects.get()
    shrink = 1 + PricePolicy.objects.get().shrink_pct / 100
    for kind, held, line in (("quotes", held_quote, quoted), ("orders", held_order, ordered)):
        [row] = table_rows(client, change, kind)
        assert Decimal(row["margin_at_new_costs"]) == held.margin_now
        assert Decimal(row["lost"]) == held.lost
        [pounds] = [each.lb for each in line.price_breakdown.material if each.code == RISEN]
        # By hand: the pounds weighed of it, what is lost of them too; two steps round to the cent.
        rise = pounds * (after[RISEN] - before[RISEN]) * shrink
        assert abs(held.lost - rise) <= Decimal("0.02")
        assert held.lost > 0
        listed = client.get(f"/new-costs/{change.pk}/?show={kind}").content.decode()
        assert dollars(held.lost) in listed
        assert row["below_floor"] == "yes"
        assert f"{held.margin_pct_now:.2f}" in listed

    put_in_force(acting_user=office, change=change, on=today)
    run_due()

    # In force: the pages of the stock, the table of costs, the figures.
    [in_table] = [row for row in CostTable(today).rows if row.code == RISEN]
    assert in_table.per_lb_today == unit_price(after[RISEN])
    for address in ("/stocks/", f"/stocks/{RISEN}/", "/stocks/costs/"):
        assert per_lb in client.get(address).content.decode(), address
    asked = {"question": "stock-costs", "by": "each"}
    [moved] = [row for row in file_of(client, **asked) if row["Stock"].startswith(f"{RISEN} ")]
    assert Decimal(moved["Per lb at the end"]) == after[RISEN]
    assert Decimal(moved["Per lb at the beginning"]) == before[RISEN]
    assert Decimal(moved["Change, %"]) == BY_PCT
    assert per_lb in client.get("/figures/", asked).content.decode()

    # The blend: its page in the library, the blend page, the API.
    revision.refresh_from_db()
    assert revision.cost_today.cost_per_gal == per_gal
    library = client.get(f"/blends/{revision.blend_id}/").content.decode()
    assert f"{reader().unit_price(per_gal, 'USD')} per gal" in library
    body = json.dumps(WISH)
    totals = client.post("/api/v1/formulations/", body, content_type="application/json").json()[
        "totals"
    ]
    assert abs(Decimal(totals["cost_per_gal"]) - per_gal) < Decimal("0.005")
    worked = client.get("/blend/", {"revision": revision.pk}).content.decode()
    found = re.search(r"from \$([\d.]+) of stocks per gal", worked)
    assert found is not None
    assert Decimal(found[1]) == Decimal(totals["cost_per_gal"])

    # Given prices: open quotes, the order's today.
    assert quote.margin_today.margin_now == held_quote.margin_now
    margins = client.get("/open-quotes/").content.decode()
    assert f"{held_quote.margin_pct_now:.2f}" in margins
    earns = order_money(order, today)
    assert earns.today is not None
    assert earns.today.margin == held_order.margin_now
    shown = client.get(f"/orders/{order.number}/").content.decode()
    for amount in (earns.today.margin, earns.today.material, earns.quoted.margin):
        assert dollars(amount) in shown

    # New prices: a fresh quote, the blend page, the preview of prices.
    tote = Package.objects.get(code="tote-265")
    act_on_quote(deed=Deed.DRAFT, quote=quote, change=change, acting_user=office, words="")
    drafted = quote.next_version
    assert drafted is not None
    assert dollars(drafted.total) in client.get(f"/quotes/{drafted.number}/").content.decode()
    fresh = drafted.lines.get().price_breakdown
    assert fresh.amount(StepCode.MATERIAL) == money(
        sum((each.lb * after[each.code] for each in fresh.material), Decimal(0))
    )
    assert quoted.price_breakdown.earned - fresh_cost(quoted, fresh) == held_quote.margin_now
    sent = PriceDesk(today).as_sent() | {"preview-blend1": str(revision.pk)}
    desk = PriceDesk(today, sent | {"preview-package": str(tote.pk)})
    [previewed] = [each for each in preview_of(desk, today).blends[0].prices if each.quantity == 4]
    assert previewed.why_not == ""
    assert previewed.new.amount(StepCode.MATERIAL) == fresh.amount(StepCode.MATERIAL)

    # What people are told: as many quotes below the floor as the page and its table say.
    told = set(Notice.objects.filter(person=rep).values_list("text", flat=True))
    assert f"{change.name} would bring 1 open quote below the floor." in told
    assert f"{quote.number} is below the floor at new costs." in told
    act_on_quote(deed=Deed.MAIL, quote=quote, change=change, acting_user=office, words="Dearer.")
    mail = Mail.objects.filter(to=customer.email).latest("pk")
    assert f"Quote {quote.number} for {company}: valid until" in mail.text
