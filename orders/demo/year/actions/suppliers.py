"""The terms of both suppliers for what the year's blends are made of."""

from __future__ import annotations

from decimal import Decimal

from formulas.models import BaseStock
from orders.demo.year.actions.dated import put_in
from orders.demo.year.lots import SUPPLIERS
from orders.demo.year.suppliers import NOTE, TERMS
from orders.models import SupplierTerms


def add_suppliers() -> None:
    """Of each stock the first supplier is preferred."""
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
