"""Where an exact number leads: the one record that carries it."""

from __future__ import annotations

from django.urls import reverse

from blendshop.accounts.models import User
from orders.models import Batch, Order, PackageSerial, Quote, StockLot
from orders.searching.asked import Asked


def lead_of(user: User, asked: Asked) -> str:
    """The address of what carries the number, as far as the user may see it; empty otherwise."""
    if not asked.may_be_number:
        return ""
    given_out = asked.spellings
    by_number = (
        ("quote_detail", Quote.objects.visible_to(user)),
        ("order_detail", Order.objects.visible_to(user)),
        ("batch_detail", Batch.objects.visible_to(user)),
    )
    for route, rows in by_number:
        if number := rows.filter(number__in=given_out).values_list("number", flat=True).first():
            return reverse(route, args=[number])
    lots = StockLot.objects.visible_to(user).filter(code__in=given_out)
    if code := lots.values_list("code", flat=True).first():
        return reverse("lot_detail", args=[code])
    packages = PackageSerial.objects.filter(serial__in=given_out)
    seen = packages.filter(part__batch__in=Batch.objects.visible_to(user).values("pk"))
    if serial := seen.values_list("serial", flat=True).first():
        return reverse("package_page", args=[serial])
    return ""
