"""One stock rises by 15 %: every page, table, mail and answer says the same, to the cent."""

import csv
import io
import json
from collections.abc import Iterator, Mapping
from decimal import Decimal
from typing import Any

import pytest
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
from orders.models import CostChange, Order, OrderImpact, Package, QuoteImpact
from orders.price_desk.desk import PriceDesk
from orders.price_desk.preview import preview_of
from orders.pricing import StepCode
from orders.quoting.actions.quotes import draft_quote
from orders.quoting.draft_prices import DraftLine
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


def table_rows(client: Client, change: CostChange, table: str) -> Iterator[dict[str, str]]:
    text = client.get(f"/new-costs/{change.pk}/{table}.csv").content.decode("utf-8-sig")
    yield from csv.DictReader(io.StringIO(text))


def test_a_cost_that_rises_is_the_same_cents_on_every_paper(
    revision: BlendRevision,
    order: Order,
    company: Company,
    rep: User,
    office: User,
    formulator: User,
    signed_in: Any,
) -> None:
    today = timezone.localdate()
    before = costs_per_lb()
    after = before | {RISEN: before[RISEN] * (1 + BY_PCT / 100)}
    old_per_gal, per_gal = by_hand(revision, before), by_hand(revision, after)
    assert per_gal > old_per_gal
    place = ShipToFactory(company=company)
    quote = sent_quote(rep, revision, place, quantity=4)
    client = signed_in(office)

    # Before it is in force: the impact, its page and its tables.
    sheet = {"name": "UAN +15 %", "rows": "6", "row1-stock": RISEN, "row1-by_pct": str(BY_PCT)}
    assert client.post("/new-costs/new/", sheet).status_code == 302
    change = CostChange.objects.get()
    work_out_impact(change=change, acting_user=office)
    run_due()
    new = reader().unit_price(unit_price(after[RISEN]), "USD")
    assert new in client.get(f"/new-costs/{change.pk}/?show=costs").content.decode()
    [blend] = table_rows(client, change, "blends")
    assert Decimal(blend["cost_per_gal_before"]) == old_per_gal
    assert Decimal(blend["cost_per_gal_at_new_costs"]) == per_gal
    page = client.get(f"/new-costs/{change.pk}/?show=blends").content.decode()
    assert reader().unit_price(per_gal, "USD") in page
    [of_quotes], [of_orders] = (
        list(table_rows(client, change, table)) for table in ("quotes", "orders")
    )
    held_quote, held_order = QuoteImpact.objects.get(), OrderImpact.objects.get()
    rise = after[RISEN] - before[RISEN]
    for held, row, priced in (
        (held_quote, of_quotes, quote.lines.get()),
        (held_order, of_orders, order.lines.get()),
    ):
        assert Decimal(row["margin_at_new_costs"]) == held.margin_now
        [pounds] = [each.lb for each in priced.price_breakdown.material if each.code == RISEN]
        then, now = (priced.price_breakdown.amount(StepCode.MATERIAL), money(pounds * rise))
        # The rise is the pounds weighed of the stock; the plant's shrink goes with the material.
        assert held.lost >= now > 0
        assert then > now
    assert (
        reader().money(held_quote.margin_now, "USD")
        in client.get(f"/new-costs/{change.pk}/?show=quotes").content.decode()
    )

    put_in_force(acting_user=office, change=change, on=today)
    run_due()

    # In force: the catalogue's pages.
    entry = BaseStock.objects.get(code=RISEN).cost_on(today)
    assert entry is not None
    assert entry.per_lb() == after[RISEN]
    [in_table] = [row for row in CostTable(today).rows if row.code == RISEN]
    assert in_table.per_lb_today == unit_price(after[RISEN])
    for page in ("/stocks/", f"/stocks/{RISEN}/", "/stocks/costs/"):
        assert new in client.get(page).content.decode(), page
    asked = {"question": "stock-costs", "by": "each"}
    print(file_of(client, **asked))

    # Blends: library, blend page, API.
    said = client.get(f"/blends/{revision.blend_id}/").content.decode()
    assert f"{reader().unit_price(per_gal, 'USD')} per gal" in said
    revision.refresh_from_db()
    assert revision.cost_today.cost_per_gal == per_gal
    api = client.post("/api/v1/formulations/", json.dumps(WISH), content_type="application/json")
    print(api.json()["totals"], per_gal)
    worked = client.get("/blend/", {"revision": revision.pk}).content.decode()
    import re

    print(re.findall(r"fold-result[^<]*from[^<]*", worked))

    # Prices: open quotes, the order's today, a fresh quote, the preview of prices.
    assert quote.margin_today.margin_now == held_quote.margin_now
    assert (
        reader().money(held_quote.margin_now, "USD") in client.get("/open-quotes/").content.decode()
    )
    earns = order_money(order, today)
    assert earns.today is not None
    assert earns.today.margin == held_order.margin_now
    shown = client.get(f"/orders/{order.number}/").content.decode()
    assert reader().money(held_order.margin_now, "USD") in shown
    assert reader().money(earns.today.material, "USD") in shown
    fresh = (
        draft_quote(
            acting_user=rep,
            company=company,
            ship_to=place,
            lines=[
                DraftLine(
                    revision=revision, package=Package.objects.get(code="tote-265"), quantity=4
                )
            ],
            validity_days=30,
        )
        .lines.get()
        .price_breakdown
    )
    desk = PriceDesk(today).as_sent() | {"preview-blend1": str(revision.pk)}
    preview = preview_of(PriceDesk(today, desk), today)
    print(
        preview.waits_for,
        [(p.quantity, p.old.price_total, p.why_not) for p in preview.blends[0].prices],
        fresh.price_total,
    )
    print([n.text for n in Notice.objects.all()], Mail.objects.count())
