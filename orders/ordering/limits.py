"""What a customer's people may order before somebody of the plant has looked at it."""

from __future__ import annotations

from decimal import Decimal

from django.conf import settings
from django.db.models import Sum
from django.utils.translation import gettext as _

from blendshop.accounts.models import Company
from blendshop.figures.readers import house
from orders.models import Order, OrderLimits


def open_amount(company: Company, *, but: Order | None = None) -> Decimal:
    """Dollars of the company's orders that are the plant's to make or ship, ``but`` left out.

    Requests are none yet, and what is shipped is the office's to collect: no payment is kept here.
    """
    orders = Order.objects.open().filter(company=company)
    if but is not None:
        orders = orders.exclude(pk=but.pk)
    found: Decimal | None = orders.aggregate(total=Sum("total"))["total"]
    return found or Decimal(0)


def above_limits(
    company: Company, *, gallons: float, total: Decimal, but: Order | None = None
) -> tuple[str, ...]:
    """Which limits an order of that size is above, a sentence each; ``but`` is the order itself.

    Holds for longer than the reading only while the caller holds the company's row.
    """
    limits = OrderLimits.objects.filter(company=company).first()
    if limits is None:
        return (_("No limits are agreed for orders without our look yet."),)
    told = []
    if limits.most_gal is not None and gallons > limits.most_gal:
        told.append(
            _("{gallons} are more than the {most} agreed for one order.").format(
                gallons=house().volume(gallons, 0), most=house().volume(limits.most_gal, 0)
            )
        )
    if limits.most_total is not None and total > limits.most_total:
        told.append(
            _("{total} is more than the {most} agreed for one order.").format(
                total=_dollars(total), most=_dollars(limits.most_total)
            )
        )
    if limits.most_open is not None:
        together = open_amount(company, but=but) + total
        if together > limits.most_open:
            told.append(
                _(
                    "With it all open orders come to {together}, more than the {most} agreed."
                ).format(together=_dollars(together), most=_dollars(limits.most_open))
            )
    return tuple(told)


def _dollars(amount: Decimal) -> str:
    return house().money(amount, settings.CURRENCY)
