"""What a customer's next quote begins with: where the last one went, and what it was packed in."""

from orders.models import Package, Quote, QuoteLine, ShipTo


def usual_ship_to(company_pk: int | None) -> ShipTo | None:
    """Where the customer's last quote went, else its first address."""
    quotes = Quote.objects.filter(company=company_pk, ship_to__active=True)
    newest = quotes.select_related("ship_to").order_by("-pk").first()
    if newest is not None:
        return newest.ship_to
    return ShipTo.objects.filter(company=company_pk, active=True).first()


def usual_package(company_pk: int | None) -> Package | None:
    """What the customer's last quote was packed in, else the smallest tote: most go by tote."""
    active = Package.objects.filter(active=True)
    last = QuoteLine.objects.filter(quote__company=company_pk).order_by("-quote__pk", "position")
    return (
        active.filter(pk=last.values("package")[:1]).first()
        or active.filter(kind__startswith="tote").first()
        or active.first()
    )
