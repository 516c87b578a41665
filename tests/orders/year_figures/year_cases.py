"""Orders and quotes written down directly, with the money and the days a test names."""

import csv
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.test import Client
from django.utils import timezone

from blendshop.accounts.models import Company, User
from formulas.models import Blend, BlendRevision
from orders.models import Order, OrderEvent, OrderLine, Package, Quote, QuoteLine, ShipTo
from tests.factories import PackageFactory, ShipToFactory
from tests.stored_answers import stored_answer


def at_noon(day: date) -> datetime:
    return timezone.make_aware(datetime(day.year, day.month, day.day, 12))  # noqa: DTZ001


def revision_of(blend: str, by: User) -> BlendRevision:
    """The blend of that name, made once."""
    made, _ = Blend.objects.get_or_create(name=blend, defaults={"created_by": by})
    return made.revisions.first() or BlendRevision.objects.create(
        blend=made, number=1, wish={}, answer=stored_answer({}), grade="24-0-3",
        density_lb_per_gal=10.0, created_by=by,
    )  # fmt: skip


def package() -> Package:
    return Package.objects.first() or PackageFactory()


def shipped(
    number: str,
    company: Company,
    lines: list[tuple[BlendRevision, str, str]],
    on: date,
    *,
    due_on: date | None = None,
    state: str = "MD",
    quote: Quote | None = None,
) -> Order:
    """An order that left on a day; of each line blend, price and margin, 100 gal of 1,000 lb."""
    order = Order.objects.create(
        number=number, company=company, ship_to=place(company, state), status="shipped",
        due_on=due_on or on, total=0, quote=quote,
    )  # fmt: skip
    OrderLine.objects.bulk_create(
        OrderLine(
            order=order, position=position, revision=revision, package=package(), quantity=1,
            volume_gal=100, mass_lb=1000, price_per_gal=1, line_total=Decimal(price),
            earned=Decimal(earned), material=Decimal(price) / 2,
        )
        for position, (revision, price, earned) in enumerate(lines, 1)
    )  # fmt: skip
    event = OrderEvent(
        order=order, who="office", from_status="made", to_status="shipped", data={"state": state}
    )
    OrderEvent.objects.bulk_create([event])
    _set_at(event, at_noon(on))
    return order


def quoted(
    number: str,
    company: Company,
    by: User,
    sent_on: date,
    *,
    status: str,
    answered_on: date | None = None,
    why: str = "",
    total: str = "100",
    blends: tuple[BlendRevision, ...] = (),
) -> Quote:
    """A quote that went out on a day, and its answer; deposits are 10 dollars of the total."""
    quote = Quote.objects.create(
        number=number, company=company, ship_to=place(company, "MD"), status="draft",
        valid_until=sent_on, created_by=by, sent_at=at_noon(sent_on), decision_note=why,
        decided_at=at_noon(answered_on) if answered_on else None, total=Decimal(total),
        deposit_total=10,
    )  # fmt: skip
    QuoteLine.objects.bulk_create(
        QuoteLine(quote=quote, position=n, revision=revision, package=package(), quantity=1)
        for n, revision in enumerate(blends, 1)
    )
    Quote.objects.filter(pk=quote.pk).update(status=status)
    return quote


def place(company: Company, state: str) -> ShipTo:
    found: ShipTo = ShipTo.objects.filter(company=company, state=state).first() or ShipToFactory(
        company=company, state=state
    )
    return found


def file_of(client: Client, **asked: Any) -> list[dict[str, str]]:
    """The rows of the CSV file of a question, by heading."""
    text = client.get("/figures.csv", asked).content.decode("utf-8-sig")
    return list(csv.DictReader(text.splitlines()))


def _set_at(event: OrderEvent, at: datetime) -> None:
    """Events are written once and dated by the clock; a test has to turn it back below them."""
    super(type(OrderEvent.objects.all()), OrderEvent.objects.filter(pk=event.pk)).update(at=at)
