"""The terms of both suppliers for what the year's blends are made of, and what is on the way."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

from blendshop.accounts.models import User
from formulas.models import BaseStock
from orders.demo.year.actions.dated import put_in
from orders.demo.year.lots import SUPPLIERS
from orders.demo.year.suppliers import NOTE, ON_THE_WAY, STORAGE, TERMS
from orders.models import StockPurchase, StockStorage, SupplierTerms


def add_suppliers(by: User, today: date) -> None:
    """Of each stock the first supplier is preferred, and two things are on the way from it."""
    stocks = {row.code: row for row in BaseStock.objects.filter(code__in=TERMS)}
    put_in(
        SupplierTerms,
        (
            SupplierTerms(
                stock=stocks[code],
                supplier=supplier,
                lead_days=days,
                least_order_lb=Decimal(least),
                pack_lb=Decimal(pack),
                preferred=supplier == SUPPLIERS[0],
                price_note=NOTE,
            )
            for code, terms in TERMS.items()
            for supplier, (days, least, pack) in zip(SUPPLIERS, terms, strict=True)
        ),
    )
    put_in(
        StockStorage,
        (StockStorage(stock=stocks[code], most_lb=Decimal(lb)) for code, lb in STORAGE.items()),
    )
    put_in(
        StockPurchase,
        (
            StockPurchase(
                stock=stocks[code],
                supplier=SUPPLIERS[0],
                lb=Decimal(lb),
                ordered_on=today,
                expected_on=today + timedelta(days=days),
                note=NOTE,
                made_by=by,
                key=f"demo {code}",
            )
            for code, lb, days in ON_THE_WAY
        ),
    )
