"""The demo's year: something of everything, ledgers that add up, and pages that open."""

from collections import defaultdict
from collections.abc import Iterator
from datetime import timedelta
from decimal import Decimal
from io import BytesIO
from itertools import pairwise
from typing import Any

import pytest
from django.db import transaction
from django.db.models import Count, Min, Sum
from django.test import Client, override_settings
from django.urls import reverse
from django.utils import timezone
from django_tasks_db.models import DBTaskResult
from pypdf import PdfReader
from pytest_django import DjangoDbBlocker

from blendshop.accounts.models import Company, User
from blendshop.figures.readers import house
from formulas.models import Blend, StockCost
from orders.demo.actions import load_demo
from orders.demo.year import calendar
from orders.demo.year.actions.loading import load_demo_year
from orders.demo.year.actions.quote_papers import issue_of_its_day
from orders.frozen.tank_contents import TankState
from orders.inventory.levels import ledger_differences
from orders.labels.standing import label_states
from orders.models import (
    Batch,
    BatchPart,
    Charge,
    CrewSheet,
    Order,
    OrderEvent,
    PlanAddition,
    QualityReading,
    Quote,
    QuoteEvent,
    Recall,
    ReversedCharge,
    SeasonProgram,
    StandingRound,
    StockLot,
    StockMovement,
    Tank,
    TankEntry,
)

pytestmark = pytest.mark.django_db  # pytest-django prepares only databases that marks ask for

TABLES = (
    Blend, Company, User, StockCost, Quote, QuoteEvent, Order, OrderEvent, Batch, StockLot,
    StockMovement, TankEntry, Recall, SeasonProgram, StandingRound,
)  # fmt: skip


@pytest.fixture(scope="module")
def year(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[None]:
    """Loaded once for this file; what a test writes is taken back behind it."""
    with django_db_blocker.unblock(), transaction.atomic():
        with override_settings(DEBUG=True):
            load_demo_year(today=timezone.localdate())
        yield
        transaction.set_rollback(True)


def signed_in(email: str) -> Client:
    client = Client()
    client.force_login(User.objects.get(email=email))
    return client


def test_loading_again_writes_nothing(year: None, settings: Any) -> None:
    settings.DEBUG = True
    before = [model.objects.count() for model in TABLES]
    load_demo_year(today=timezone.localdate())
    load_demo(today=timezone.localdate())
    assert [model.objects.count() for model in TABLES] == before


def test_it_holds_what_the_pages_of_a_year_show(year: None) -> None:
    shipped = Order.objects.filter(status=Order.Status.SHIPPED)
    assert len(set(shipped.values_list("ship_to__state", flat=True))) == 5
    assert set(Quote.objects.values_list("status", flat=True)) == set(Quote.Status.values) - {
        Quote.Status.AWAITING_APPROVAL
    }
    assert QuoteEvent.objects.filter(to_status=Quote.Status.AWAITING_APPROVAL).exists()
    assert {"open", "planned", "made", "shipped"} == set(
        Order.objects.values_list("status", flat=True)
    )
    assert shipped.count() > 140
    assert Quote.objects.values("created_by").distinct().count() == 2
    reasons = Quote.objects.filter(status=Quote.Status.DECLINED).values_list("decision_note")
    assert reasons.distinct().count() >= 4
    assert PlanAddition.objects.values("batch").distinct().count() == 3
    assert ReversedCharge.objects.count() == 1
    recall = Recall.objects.get()
    assert recall.closed_at is not None
    assert recall.held.exists()
    assert recall.customers.exists()
    assert SeasonProgram.objects.count() == 8
    assert StandingRound.objects.waiting().exists()
    moved = StockCost.objects.values("stock").annotate(costs=Count("amount", distinct=True))
    assert moved.filter(costs__gt=2).count() == 8


def test_a_quote_of_the_past_gets_the_paper_of_its_day(year: None) -> None:
    """A worker draws them all; here those of one customer's quotes, as many as it takes."""
    assert DBTaskResult.objects.filter(task_path__endswith="issue_papers_of_the_past").exists()
    quote = Quote.objects.filter(status=Quote.Status.ACCEPTED, papers=None).latest("sent_at")
    client = signed_in(quote.created_by.email)
    address = reverse("quote_pdf", args=[quote.number])
    assert client.get(address).status_code == 404
    issue_of_its_day(quote)
    paper = quote.papers.get()
    assert paper.issued_at == quote.sent_at
    assert paper.snapshot["accept_url"] == ""
    pdf = b"".join(client.get(address))
    text = "".join(page.extract_text() for page in PdfReader(BytesIO(pdf)).pages)
    assert f"${quote.total:,.2f}" in text
    assert house().date(timezone.localdate(quote.sent_at)) in text
    assert quote.notes in text


def test_a_laboratory_looked_at_some_batches(year: None) -> None:
    looked = QualityReading.objects.exclude(lab_analysis={})
    assert 20 < looked.count() < QualityReading.objects.count() / 2
    assert all("invented" in each.lab_source for each in looked)
    assert not looked.exclude(findings=[]).exists()
    assert all(each.lab_analysis.get("N", 0) > 5 for each in looked)


def test_what_is_reserved_has_the_price_and_pounds_of_its_day(year: None) -> None:
    rounds = StandingRound.objects.all()
    assert rounds
    for each in rounds:
        assert each.mass_lb == float(each.price["mass_lb"])


def test_it_lies_in_the_last_fourteen_months_on_working_days(year: None) -> None:
    today = timezone.localdate()
    start = calendar.first_day(today)
    of_year = Order.objects.filter(once_key__startswith="demo-year-")
    days = [timezone.localdate(at) for at in of_year.values_list("created_at", flat=True)]
    assert start <= min(days) < start + timedelta(days=40)
    assert max(days) < today
    assert {day.weekday() for day in days} <= set(range(5))
    made = Batch.objects.filter(parts__order_line__order__in=of_year, status="released")
    first = made.aggregate(Min("created_at"))["created_at__min"]
    assert first < calendar.moment(start + timedelta(days=60), 0)
    spring = sum(day.month in (3, 4, 5, 6) for day in days)
    winter = sum(day.month in (12, 1, 2) for day in days)
    assert spring > 2 * winter


def test_its_stock_ledger_adds_up_and_no_lot_was_ever_below_nothing(year: None) -> None:
    assert ledger_differences() == []
    balance: dict[int, Decimal] = defaultdict(Decimal)
    for movement in StockMovement.objects.order_by("at", "pk"):
        balance[movement.lot_id] += movement.mass_lb
        assert balance[movement.lot_id] >= 0, movement
    charged = Charge.objects.filter(lot__isnull=False).aggregate(Sum("mass_lb"))["mass_lb__sum"]
    used = StockMovement.objects.filter(kind="used").aggregate(Sum("mass_lb"))["mass_lb__sum"]
    assert charged == -used


def test_each_tank_holds_one_batch_at_a_time(year: None) -> None:
    kind = TankEntry.Kind
    follows = {
        kind.LOOKED: {kind.BEGUN, kind.RINSED},
        kind.BEGUN: {kind.FINISHED},
        kind.FINISHED: {kind.DRAINED},
        kind.DRAINED: {kind.RINSED},
        kind.RINSED: {kind.BEGUN},
    }
    for tank in Tank.objects.all():
        entries = list(tank.ledger.order_by("pk"))
        assert [entry.at for entry in entries] == sorted(entry.at for entry in entries)
        for before, after in pairwise(entries):
            assert after.kind in follows[kind(before.kind)]
            if after.kind in (kind.FINISHED, kind.DRAINED):
                assert after.batch_id == before.batch_id
            if before.kind == kind.RINSED:
                assert before.held.state is TankState.EMPTY


def test_what_was_shipped_was_made_under_an_approved_label(year: None) -> None:
    shipped = Order.objects.filter(status=Order.Status.SHIPPED).prefetch_related(
        "lines__parts__batch", "lines__parts__packages", "events"
    )
    for order in shipped:
        for line in order.lines.all():
            parts = line.parts.all()
            assert sum(part.quantity for part in parts) == line.quantity
            assert all(part.batch.status == Batch.Status.RELEASED for part in parts)
            assert sum(len(part.packages.all()) for part in parts) == line.quantity
        at = [event.at for event in order.events.all()]
        assert at == sorted(at)
        assert order.created_at <= at[0]
    first = BatchPart.objects.filter(order_line__order__in=shipped).order_by("-pk")[:30]
    assert all(state.is_approved for state in label_states(first.with_label()))


def test_its_cents_add_up(year: None) -> None:
    """An order is the sum of its lines, as its quote was, and each line of its own steps."""
    for order in Order.objects.prefetch_related("lines").select_related("quote"):
        lines = order.lines.all()
        assert order.total == sum(line.line_total + line.deposit for line in lines)
        assert order.deposit_total == sum(line.deposit for line in lines)
        if order.quote is not None:
            assert order.quote.total == order.total
        for line in lines:
            assert line.price_breakdown.price_total == line.line_total
            assert line.earned == line.price_breakdown.earned
            assert line.material > 0


def test_lots_scatter_and_one_supplier_s_stock_drifts(year: None) -> None:
    lots = StockLot.objects.filter(stock__code="TRIAZONE28", figures__key="N.slow")
    rows = lots.order_by("received_on", "pk").values_list("supplier", "figures__pct")
    of: dict[str, list[float]] = defaultdict(list)
    for supplier, pct in rows:
        of[supplier].append(pct)
    steady, drifting = (of[name] for name in sorted(of, reverse=True))
    assert min(len(steady), len(drifting)) >= 8
    half = len(drifting) // 2
    assert sum(drifting[half:]) / len(drifting[half:]) < sum(drifting[:half]) / half - 0.1
    half = len(steady) // 2
    assert abs(sum(steady[half:]) / len(steady[half:]) - sum(steady[:half]) / half) < 0.1
    off = {
        charge.mass_lb - Decimal(repr(charge.batch.load_plan.steps[charge.step - 1].weight_lb))
        for charge in Charge.objects.filter(step=1).select_related("batch")[:60]
    }
    assert min(off) < 0 < max(off)
    assert QualityReading.objects.filter(findings=[]).count() > 100


PAGES = {
    "office": (
        "year_figures",
        "buying",
        "drift_list",
        "order_board",
        "quote_list",
        "recall_list",
        "lot_list",
        "change_log",
        "tonnage",
    ),
    "rep": ("quote_list", "order_board"),
    "plant": ("batch_list", "the_day", "lot_list", "tank_list"),
    "formulator": ("batch_list", "blend_list"),
}


@pytest.mark.parametrize("role", PAGES)
def test_its_lists_open(year: None, role: str) -> None:
    client = signed_in(f"{role}@thistleford.example")
    for route in PAGES[role]:
        assert client.get(reverse(route)).status_code == 200, route


def test_one_of_every_kind_of_row_opens(year: None) -> None:
    rep, plant = signed_in("rep2@thistleford.example"), signed_in("plant@thistleford.example")
    for status in set(Quote.objects.values_list("status", flat=True)):
        quote = Quote.objects.filter(status=status).order_by("pk")[0]
        assert rep.get(reverse("quote_detail", args=[quote.number])).status_code == 200
    for status in set(Order.objects.values_list("status", flat=True)):
        order = Order.objects.filter(status=status).order_by("pk")[0]
        assert rep.get(reverse("order_detail", args=[order.number])).status_code == 200
    recall = Recall.objects.get()
    corrected = PlanAddition.objects.order_by("pk")[0].batch
    slip = ReversedCharge.objects.get().charge.batch
    for batch in (corrected, slip, recall.held.order_by("pk")[0].batch):
        for route in ("batch_detail", "batch_charge"):
            assert plant.get(reverse(route, args=[batch.number])).status_code == 200, route
    lot = StockLot.objects.get(code=recall.source)
    assert plant.get(reverse("lot_detail", args=[lot.code])).status_code == 200
    assert plant.get(reverse("recall_detail", args=[recall.number])).status_code == 200
    for route in ("batch_quality", "batch_record_pdf"):
        assert plant.get(reverse(route, args=[corrected.number])).status_code == 200, route
    part = corrected.parts.order_by("pk")[0]
    for route in ("label_letter_pdf", "part_certificate_pdf"):
        assert plant.get(reverse(route, args=[corrected.number, part.position])).status_code == 200


def test_a_customer_of_the_year_sees_its_own(year: None) -> None:
    order = Order.objects.filter(company__name__startswith="Osier").order_by("pk")[0]
    own = signed_in("owner@osierbrook.example")
    assert own.get(reverse("order_detail", args=[order.number])).status_code == 200
    assert own.get(reverse("home"), follow=True).status_code == 200
    other = signed_in("owner@larkfield.example")
    assert other.get(reverse("order_detail", args=[order.number])).status_code == 404


def test_crews_have_sheets_of_delivered_lots_with_records(year: None) -> None:
    sheets = CrewSheet.objects.all()
    assert {sheet.language for sheet in sheets} == {"en", "es"}
    assert all(sheet.crew_figures.lot and sheet.records.count() == 3 for sheet in sheets)
