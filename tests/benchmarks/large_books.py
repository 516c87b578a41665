"""A hundred thousand saved blends and ten thousand open quotes, copied inside the database."""

from decimal import Decimal

from django.db import connection
from django.utils import timezone

from blendshop.roles import Role
from formulas.models import Blend, BlendRevision, RevisionLine
from orders.models import Package, Quote, QuoteLine
from orders.quoting.actions import quotes as actions
from orders.quoting.draft_prices import DraftLine
from tests.factories import BaseStockFactory, CompanyFactory, UserFactory
from tests.orders.quoting.quote_cases import make_quotable

#: Stocks of the catalogue, of which each recipe has a fifth.
STOCKS = 30


def fill_books(*, blends, quotes):
    """Every blend has six of thirty stocks; every third quote has two lines, the others one."""
    rep = UserFactory(email="rep@plant.example", name="Robin Rep", role=Role.REP)
    company = CompanyFactory(name="Brookmeadow Lawn Care")
    revision, ship_to = make_quotable(company, rep)
    for number in range(STOCKS - 5):
        BaseStockFactory(code=f"S{number}", analysis={}, cost_per_lb=f"0.{1000 + 37 * number}")
    with connection.cursor() as cursor:
        _copy(cursor, Blend, blends, {"name": "'Blend ' || i", "company_id": "NULL"})
        cursor.execute(
            "INSERT INTO formulas_blendrevision"
            " (blend_id, number, wish, answer, grade, slow_release_pct, density_lb_per_gal, note,"
            " for_order_only, created_by_id, created_at)"
            " SELECT blend.id, 1, wish, answer, grade, slow_release_pct,"
            " 9.0 + (blend.id %% 200) / 100.0, note, for_order_only, one.created_by_id,"
            " one.created_at FROM formulas_blend blend, formulas_blendrevision one"
            " WHERE one.id = %s AND blend.id <> one.blend_id ORDER BY blend.id",
            [revision.pk],
        )
        cursor.execute(
            "INSERT INTO formulas_revisionline (revision_id, stock_id, pct)"
            " SELECT revision.id, stock.id, 10.0 + (revision.id + stock.id) %% 13"
            " FROM formulas_blendrevision revision, formulas_basestock stock"
            " WHERE revision.id <> %s AND (revision.id + stock.id) %% 5 = 0"
            " ORDER BY revision.id, stock.id",
            [revision.pk],
        )
        for lines, count in ((1, quotes * 2 // 3), (2, quotes - quotes * 2 // 3)):
            _copy_quote(cursor, _sent(rep, company, ship_to, revision, lines), count)
        cursor.execute("ANALYZE")
    assert BlendRevision.objects.count() == blends + 1
    assert RevisionLine.objects.count() == 6 * blends + 2
    return company


def _sent(rep, company, ship_to, revision, lines):
    quote = actions.draft_quote(
        acting_user=rep,
        company=company,
        ship_to=ship_to,
        lines=[
            DraftLine(revision=revision, package=Package.objects.get(), quantity=2 + number)
            for number in range(lines)
        ],
        validity_days=30,
    )
    actions.send_quote(quote=quote, acting_user=rep)
    return quote


def _copy_quote(cursor, quote, count):
    first = Quote.objects.order_by("-pk")[0].pk
    _copy(cursor, Quote, count, {"number": f"'X{quote.pk}-' || i"}, of=quote)
    lines = [field.column for field in QuoteLine._meta.concrete_fields if not field.primary_key]
    own = ", ".join("copy.id" if name == "quote_id" else f"line.{name}" for name in lines)
    cursor.execute(
        f"INSERT INTO orders_quoteline ({', '.join(lines)}) SELECT {own}"  # noqa: S608
        " FROM orders_quote copy, orders_quoteline line"
        " WHERE line.quote_id = %s AND copy.id > %s",
        [quote.pk, first],
    )


def _copy(cursor, model, count, others, of=None):
    """So many copies of a row, numbered ``i``; ``others`` are columns that differ, as SQL."""
    columns = [field.column for field in model._meta.concrete_fields if not field.primary_key]
    values = ", ".join(others.get(name, f"one.{name}") for name in columns)
    row = of or model.objects.order_by("pk")[0]
    cursor.execute(
        "WITH RECURSIVE number (i) AS"  # noqa: S608 - our own names
        f" (SELECT 1 UNION ALL SELECT i + 1 FROM number WHERE i < {count:d})"
        f" INSERT INTO {model._meta.db_table} ({', '.join(columns)})"
        f" SELECT {values} FROM number, {model._meta.db_table} one WHERE one.id = %s ORDER BY i",
        [row.pk],
    )


def new_costs(by="1.1"):
    """Every stock costs so much more from today on, written past the actions."""
    with connection.cursor() as cursor:
        cursor.execute(
            "INSERT INTO formulas_stockcost"
            " (stock_id, effective_from, amount, unit, note, entered_by_id, entered_at)"
            " SELECT stock_id, %s, ROUND(amount * %s, 4), unit, note, entered_by_id, entered_at"
            " FROM formulas_stockcost WHERE id IN"
            " (SELECT MAX(id) FROM formulas_stockcost GROUP BY stock_id)",
            [timezone.localdate(), Decimal(by)],
        )
