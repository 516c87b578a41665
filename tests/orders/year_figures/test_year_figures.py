"""What the figures count, how they are sorted and who sees them."""

from datetime import date, timedelta
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from blendshop.accounts.models import User
from blendshop.roles import Role
from formulas.models import StockCost
from formulas.models.base_stock import CostUnit
from orders.models import Order
from orders.year_figures.period import PeriodName, named_period
from orders.year_figures.stock_figures import cost_line
from tests.factories import BaseStockFactory, CompanyFactory, UserFactory
from tests.orders.year_figures.year_cases import file_of, quoted, revision_of, shipped

pytestmark = pytest.mark.django_db

SPRING = {"period": "days", "first": "2026-03-01", "last": "2026-05-31"}
MARCH = date(2026, 3, 10)


def column(rows: list[dict[str, str]], title: str) -> list[str]:
    return [row[title] for row in rows]


@pytest.mark.parametrize(
    ("name", "today", "first", "last"),
    [
        (PeriodName.LAST_QUARTER, date(2026, 1, 1), date(2025, 10, 1), date(2025, 12, 31)),
        (PeriodName.LAST_QUARTER, date(2026, 11, 30), date(2026, 7, 1), date(2026, 9, 30)),
        (PeriodName.THIS_MONTH, date(2028, 2, 29), date(2028, 2, 1), date(2028, 2, 29)),
        (PeriodName.LAST_12_MONTHS, date(2028, 2, 29), date(2027, 3, 1), date(2028, 2, 29)),
        (PeriodName.THIS_YEAR, date(2026, 11, 30), date(2026, 1, 1), date(2026, 12, 31)),
    ],
)
def test_a_period_is_of_whole_calendar_months(
    name: PeriodName, today: date, first: date, last: date
) -> None:
    found = named_period(name, today)
    assert (found.first, found.last) == (first, last)


def test_the_worst_margin_stands_first_and_is_of_what_was_shipped_in_those_days(
    office: User, signed_in: Any
) -> None:
    """The example of the Internal Revenue Service: 100,000 left of 300,000 is 33 1/3 percent
    (Publication 334, Tax Guide for Small Business, chapter 7, "Testing Gross Profit Accuracy")."""
    poor, rich = CompanyFactory(name="Poor Turf"), CompanyFactory(name="Rich Turf")
    spring, fall = revision_of("Spring", office), revision_of("Fall", office)
    shipped("O-1", rich, [(spring, "300000.00", "100000.00")], MARCH)
    shipped("O-2", poor, [(spring, "1000.00", "100.00"), (fall, "500.00", "200.00")], MARCH)
    shipped("O-3", poor, [(fall, "100.00", "-5.00")], date(2026, 6, 1))
    client = signed_in(office)
    rows = file_of(client, **SPRING)
    assert column(rows, "Customer") == ["Poor Turf", "Rich Turf"]
    assert column(rows, "Margin, % of price") == ["20.0", "33.3"]
    assert column(rows, "Margin") == ["300.00", "100000.00"]
    assert column(rows, "Margin per gal") == ["1.5000", "1000.0000"]
    assert column(rows, "Orders") == ["1", "1"]
    turned = file_of(client, **SPRING, sort="-margin_pct")
    assert column(turned, "Customer") == ["Rich Turf", "Poor Turf"]
    blends = file_of(client, **SPRING, by="blend")
    assert column(blends, "Margin, % of price") == ["33.3", "40.0"]  # 100,100 of 301,000
    page = client.get("/figures/", SPRING).content.decode()
    assert page.index("Poor Turf") < page.index("Rich Turf")
    assert f"by=each&amp;customer={poor.pk}" in page
    assert '<td class="number fw-bold" data-label="Orders">2</td>' in page
    [one] = file_of(client, **SPRING, by="each", customer=poor.pk)
    assert (one["Order"], one["Margin"], one["from"], one["to"]) == (
        "O-2", "300.00", "2026-03-01", "2026-05-31",
    )  # fmt: skip


def test_tons_are_short_tons_and_go_to_the_state_that_was_written_down(
    office: User, signed_in: Any
) -> None:
    """A ton of fertilizer is 2,000 pounds (O.C.G.A. 2-12-2)."""
    company, blend = CompanyFactory(), revision_of("Spring", office)
    order = shipped("O-1", company, [(blend, "100", "10")] * 3, MARCH, state="VA")
    order.ship_to.state = "GA"
    order.ship_to.save()
    shipped("O-2", company, [(blend, "100", "10")], MARCH, state="MD")
    rows = file_of(signed_in(office), **SPRING, question="volume", by="state")
    assert [(row["State"], row["Tons of 2,000 lb"], row["gal"]) for row in rows] == [
        ("VA", "1.50", "300"),
        ("MD", "0.50", "100"),
    ]


def test_months_follow_each_other_and_lead_to_their_own_days(office: User, signed_in: Any) -> None:
    company, blend = CompanyFactory(), revision_of("Spring", office)
    for number, on in enumerate((date(2026, 4, 30), MARCH, date(2026, 5, 31))):
        shipped(f"O-{number}", company, [(blend, "100", "10")], on)
    client = signed_in(office)
    months = file_of(client, **SPRING, by="month")
    assert column(months, "Month") == ["March 2026", "April 2026", "May 2026"]
    page = client.get("/figures/", SPRING | {"by": "month"}).content.decode()
    assert "first=2026-04-01&amp;last=2026-04-30&amp;by=each" in page


def test_a_chart_of_months_has_every_month_of_a_year(office: User, signed_in: Any) -> None:
    company, blend = CompanyFactory(), revision_of("Spring", office)
    for month in range(1, 13):
        shipped(f"O-{month}", company, [(blend, "100", "10")], date(2026, month, 15))
    asked = {"period": "days", "first": "2026-01-01", "last": "2026-12-31", "by": "month"}
    page = signed_in(office).get("/figures/", asked).content.decode()
    chart = page[page.index("figures-bars") :]
    chart = chart[: chart.index("</svg>")]
    for month in ("January 2026", "November 2026", "December 2026"):
        assert month in chart


def test_quotes_are_won_of_those_answered_or_lapsed_and_say_why_not(
    rep: User, office: User, signed_in: Any
) -> None:
    company, blend = CompanyFactory(), revision_of("Spring", office)
    soon, late = MARCH + timedelta(days=1), MARCH + timedelta(days=8)
    twice = (blend, blend)
    quoted("Q-1", company, rep, MARCH, status="accepted", answered_on=soon, blends=twice)
    no = {"status": "declined", "answered_on": late}
    quoted("Q-2", company, rep, MARCH, why="Too late for us ", total="210", **no)  # type: ignore[arg-type]
    quoted("Q-3", company, rep, MARCH, why="too late for us", **no)  # type: ignore[arg-type]
    quoted("Q-4", company, rep, MARCH, status="expired")
    quoted("Q-5", company, rep, MARCH, status="sent")
    quoted("Q-6", company, rep, MARCH, status="void")
    quoted("Q-7", company, rep, date(2026, 6, 1), status="accepted", answered_on=late)
    client = signed_in(office)
    [row] = file_of(client, **SPRING, question="quotes")
    assert [row[key] for key in ("Accepted", "Declined", "Expired", "Open")] == [
        "1", "2", "1", "1",
    ]  # fmt: skip
    assert row["Won, %"] == "25.0"
    assert row["Days to answer"] == "5.7"  # (1 + 8 + 8) / 3
    assert (row["Quoted"], row["Won"]) == ("560.00", "90.00")
    [of_blend] = file_of(client, **SPRING, question="quotes", by="blend", blend=blend.blend_id)
    assert of_blend["Accepted"] == "1"
    [reason] = file_of(client, **SPRING, question="quotes", table="reasons")
    assert (reason["Reason"], reason["Declined"], reason["Quoted"]) == (
        "too late for us", "2", "290.00",
    )  # fmt: skip
    assert "too late for us" in client.get("/figures/", SPRING | {"question": "quotes"}).text


def test_an_order_is_on_time_by_its_day_and_more_than_a_week_late_after_seven(
    office: User, signed_in: Any
) -> None:
    company, blend = CompanyFactory(), revision_of("Spring", office)
    for number, late in enumerate((-1, 0, 1, 7, 8)):
        lines = [(blend, "100", "10")] * 2
        shipped(f"O-{number}", company, lines, MARCH, due_on=MARCH - timedelta(days=late))
    [row] = file_of(signed_in(office), **SPRING, question="on-time")
    keys = ("Shipped", "On time", "Late", "More than a week late", "On time, %")
    assert [row[key] for key in keys] == ["5", "2", "3", "1", "40.0"]


def test_a_rep_sees_its_own_quotes_and_orders_and_no_actual_cost(
    rep: User, office: User, signed_in: Any
) -> None:
    other = UserFactory(name="Sal Second", role=Role.REP)
    company, blend = CompanyFactory(), revision_of("Spring", office)
    for number, by in enumerate((rep, other)):
        quote = quoted(f"Q-{number}", company, by, MARCH, status="accepted", answered_on=MARCH)
        shipped(f"O-{number}", company, [(blend, "100", "10")], MARCH, quote=quote)
    shipped("O-9", company, [(blend, "100", "10")], MARCH)
    asked = SPRING | {"by": "each", "rep": other.pk}
    assert column(file_of(signed_in(rep), **asked), "Order") == ["O-0"]
    assert column(file_of(signed_in(rep), **asked, question="quotes"), "Quote") == ["Q-0"]
    assert "Material as weighed" not in file_of(signed_in(rep), **asked, question="costs")[0]
    assert column(file_of(signed_in(office), **asked), "Order") == ["O-1"]
    assert column(file_of(signed_in(office), **(asked | {"rep": 0})), "Order") == ["O-9"]
    reps = column(file_of(signed_in(office), **(SPRING | {"by": "rep"})), "Rep")
    assert sorted(reps) == ["Robin Rep", "Sal Second", "ordered again, without a quote"]


def test_costs_of_a_stock_are_steps_and_its_change_is_of_both_ends(
    office: User, signed_in: Any
) -> None:
    stock = BaseStockFactory(cost_per_lb="0.20", density_lb_per_gal=10.0)
    BaseStockFactory(cost_per_lb="0.30")
    for day, amount, unit in (
        (date(2026, 4, 1), "450", CostUnit.TON), (date(2026, 5, 1), "2.50", CostUnit.GAL),
        (date(2026, 6, 1), "9", CostUnit.LB),
    ):  # fmt: skip
        StockCost.objects.create(stock=stock, effective_from=day, amount=amount, unit=unit)
    client = signed_in(office)
    rows = file_of(client, **SPRING, question="stock-costs")
    assert rows[0]["Stock"].startswith(stock.code)
    assert rows[0]["Per lb at the beginning"] == "0.2000"
    assert (rows[0]["Per lb at the end"], rows[0]["Change, %"]) == ("0.2500", "25.0")
    period = named_period(PeriodName.THIS_YEAR, date(2026, 5, 31))
    line = cost_line(stock.code, period, date(2026, 5, 31))
    assert [f"{each.per_lb:.4f}" for each in line] == ["0.2000", "0.2250", "0.2500"]
    page = client.get("/figures/", SPRING | {"question": "stock-costs"}).content.decode()
    assert 'id="cost-line-title"' in page
    assert "Apr 1, 2026" in page


def test_more_rows_ask_no_more_queries(office: User, signed_in: Any) -> None:
    client, blend = signed_in(office), revision_of("Spring", office)
    today = timezone.localdate()

    def asked() -> dict[str, int]:
        counts = {}
        for question in ("margin", "quotes", "on-time", "costs", "cover", "stock-costs"):
            with CaptureQueriesContext(connection) as queries:
                assert client.get("/figures/", {"question": question}).status_code == 200
            counts[question] = len(queries)
        return counts

    def write(numbers: range) -> None:
        for number in numbers:
            company = CompanyFactory()
            no = {"status": "declined", "why": f"{number}"}
            quote = quoted(f"Q-{number}", company, office, today, **no)
            shipped(f"O-{number}", company, [(blend, "100", "10")], today, quote=quote)

    write(range(2))
    few = asked()
    write(range(2, 8))
    assert asked() == few
    assert Order.objects.count() == 8
