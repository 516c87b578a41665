"""Where a reorder starts: a saved blend or an old order, and what it cost the last time."""

from __future__ import annotations

from collections.abc import Sequence

from django.utils import timezone
from django.utils.translation import gettext as _

from blendshop.accounts.models import Company
from blendshop.figures.readers import reader
from formulas.models import Blend
from orders.models import Order, OrderLine, Package, QuoteLine, ShipTo
from orders.reordering.preview import Reorder, WantedLine, preview
from orders.reordering.wording import Earlier


def reorder_of_order(order: Order, *, quantities: Sequence[int] | None = None) -> Reorder:
    """All lines of an order again, to the same place, compared with what they cost then.

    ``quantities`` are others than the order's own, by its lines.
    """
    said = _order_of(order)
    lines = list(order.lines.select_related("revision__blend", "package"))
    wanted = [
        WantedLine(
            revision=line.revision.for_anybody,
            package=line.package,
            quantity=quantity,
            n_rate_lb_per_1000sqft=line.n_rate_lb_per_1000sqft,
            earlier=Earlier.of_line(said, line.price_breakdown),
        )
        for line, quantity in zip(
            lines, quantities or [line.quantity for line in lines], strict=True
        )
    ]
    return preview(
        wanted,
        company=order.company,
        ship_to=order.ship_to,
        source=f"order {order.number}",
        today=timezone.localdate(),
    )


def reorder_of_blend(blend: Blend, *, package: Package, quantity: int, ship_to: ShipTo) -> Reorder:
    """The newest revision of a blend, for the company of the ship-to."""
    last = last_line(blend, ship_to.company)
    wanted = WantedLine(
        revision=blend.latest,
        package=package,
        quantity=quantity,
        n_rate_lb_per_1000sqft=last.n_rate_lb_per_1000sqft if last else None,
        earlier=_earlier(last),
    )
    return preview(
        [wanted],
        company=ship_to.company,
        ship_to=ship_to,
        source=f"blend {blend.name}",
        today=timezone.localdate(),
    )


def usual_terms(blend: Blend, company: Company | None) -> dict[str, int]:
    """What the form starts with: package, quantity and place of the last order, as far as known.

    Keys as in ``ReorderForm``, rows by their primary key.
    """
    last = last_line(blend, company)
    if last is not None:
        record = last.order if isinstance(last, OrderLine) else last.quote
        return {
            "package": last.package_id,
            "quantity": last.quantity,
            "ship_to": record.ship_to_id,
        }
    usual = {"quantity": 1}
    packages = Package.objects.filter(active=True)
    package = packages.filter(kind__startswith="tote").first() or packages.first()
    if package is not None:
        usual["package"] = package.pk
    place = ShipTo.objects.filter(active=True, company=company).first() if company else None
    if place is not None:
        usual["ship_to"] = place.pk
    return usual


def last_line(blend: Blend, company: Company | None) -> OrderLine | QuoteLine | None:
    """The newest order line of a blend for a company, else the newest quote line sent to it."""
    ordered = OrderLine.objects.filter(revision__blend=blend).select_related(
        "order__ship_to", "package"
    )
    quoted = QuoteLine.objects.filter(
        revision__blend=blend, quote__sent_at__isnull=False
    ).select_related("quote__ship_to", "package")
    if company is not None:
        ordered = ordered.filter(order__company=company)
        quoted = quoted.filter(quote__company=company)
    return (
        ordered.order_by("-order__created_at", "-pk").first()
        or quoted.order_by("-quote__sent_at", "-pk").first()
    )


def _earlier(line: OrderLine | QuoteLine | None) -> Earlier | None:
    if line is None:
        return None
    if isinstance(line, OrderLine):
        return Earlier.of_line(_order_of(line.order), line.price_breakdown)
    said = _("quote {number}").format(number=line.quote.number)
    return Earlier.of_line(said, line.price_breakdown)


def _order_of(order: Order) -> str:
    """An order and its day, as the middle of a sentence."""
    day = reader().date(timezone.localdate(order.created_at))
    return _("order {number} of {day}").format(number=order.number, day=day)
