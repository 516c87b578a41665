"""A plant that sells one blend, half of it potash salt; rows put in as they are, all invented."""

from datetime import date, datetime, time, timedelta
from decimal import Decimal
from itertools import count

from django.utils import timezone

from blendshop.accounts.models import User
from formulas.models import BaseStock, Blend, BlendRevision, RevisionLine
from orders.models import (
    Batch,
    Order,
    OrderLine,
    ShipTo,
    StandingOrder,
    StandingRound,
    StockLot,
    StockMovement,
    StockReservation,
    SupplierTerms,
    Tank,
)
from tests.factories import BaseStockFactory, PackageFactory, ShipToFactory, TankFactory

#: A tote of 265 gal at 10 lb/gal is 2,650 lb, half of it salt.
SALT_A_TOTE = Decimal(1325)
_numbers = count(1)


def salt_and_recipe(by: User) -> tuple[BaseStock, BlendRevision]:
    """A stock of 10 lb/gal at $0.25 a pound, and a blend of 10 lb/gal that is half of it."""
    salt = BaseStockFactory(code="SALT", name="potash solution", cost_per_lb="0.2500")
    water = BaseStockFactory(code="WATER", traits=["water"], cost_per_lb="0.0010")
    blend = Blend.objects.create(name="Half salt", created_by=by)
    revision = BlendRevision.objects.create(
        blend=blend,
        number=1,
        wish={},
        answer={},
        grade="0-0-12",
        density_lb_per_gal=10.0,
        created_by=by,
    )
    for stock in (salt, water):
        RevisionLine.objects.create(revision=revision, stock=stock, pct=50.0)
    return salt, revision


def lot_of(stock: BaseStock, lb: int, **more: object) -> StockLot:
    return StockLot.objects.create(
        code=f"L-{next(_numbers)}",
        stock=stock,
        received_lb=lb,
        on_hand_lb=lb,
        received_on=date(2026, 1, 5),
        **more,
    )


def order_of(
    revision: BlendRevision, due_on: date, *, totes: int = 1, placed_on: date, **more: object
) -> Order:
    """An order of one line with what it reserves; ``mass_lb`` may say another weight."""
    mass_lb = more.pop("mass_lb", 2650.0 * totes)
    ship_to = ShipTo.objects.first() or ShipToFactory()
    order = Order.objects.create(
        number=f"O-{next(_numbers)}", company=ship_to.company, ship_to=ship_to, due_on=due_on,
        total=Decimal(795),
        **more,
    )  # fmt: skip
    Order.objects.filter(pk=order.pk).update(created_at=noon(placed_on))
    line = OrderLine.objects.create(
        order=order,
        position=1,
        revision=revision,
        package=PackageFactory(),
        quantity=totes,
        volume_gal=265.0 * totes,
        mass_lb=mass_lb,
        price_per_gal=Decimal(3),
        line_total=Decimal(795),
    )
    StockReservation.objects.bulk_create(
        StockReservation(order_line=line, stock_id=share.stock_id, needed_lb=SALT_A_TOTE * totes)
        for share in revision.lines.all()
    )
    return order


def round_of(revision: BlendRevision, wanted_on: date, by: User, *, totes: int = 1):
    ship_to = ShipTo.objects.first() or ShipToFactory()
    standing = StandingOrder.objects.create(
        number=f"S-{next(_numbers)}",
        company=ship_to.company,
        ship_to=ship_to,
        year=wanted_on.year,
        made_by=by,
    )
    return StandingRound.objects.create(
        standing_order=standing,
        position=1,
        name="Round 3",
        wanted_on=wanted_on,
        revision=revision,
        package=PackageFactory(),
        quantity=totes,
        mass_lb=2650.0 * totes,
    )


def charged(lot: StockLot, lb: int, on: date, by: User) -> None:
    """As a batch took it out of a lot that was large enough."""
    batch = Batch.objects.create(
        number=f"B-{next(_numbers)}",
        load_number=1,
        load_count=1,
        tank=Tank.objects.first() or TankFactory(),
        status=Batch.Status.RELEASED,
        target_gal=100,
        target_lb=1000,
        plan={},
        created_by=by,
    )
    StockMovement.objects.create(
        kind=StockMovement.Kind.USED,
        lot=lot,
        batch=batch,
        mass_lb=Decimal(-lb),
        key=f"charged-{next(_numbers)}",
        who="Test",
        at=noon(on),
    )


def terms_of(stock: BaseStock, **more: object) -> SupplierTerms:
    """Two weeks, 1,500 lb at least, in drums of 600 lb."""
    asked = {
        "supplier": "Supplier A, invented",
        "lead_days": 14,
        "least_order_lb": 1500,
        "pack_lb": 600,
        **more,
    }
    return SupplierTerms.objects.create(stock=stock, **asked)


def noon(day: date) -> datetime:
    return timezone.make_aware(datetime.combine(day, time(12)))


def a_year_before(day: date) -> date:
    """The same day of the week 52 weeks earlier."""
    return day - timedelta(days=364)


def example(today: date, by: User) -> BaseStock:
    """Two orders, a round of a standing order and last year's month; 3,000 lb of salt usable.

    By week from today: orders 1,325 and 1,325, a round 1,325; a year ago 2,000 in the first week
    and 3,000 in the fourth. Placed lately 5,300 lb of orders, a year ago 4,240.
    """
    salt, revision = salt_and_recipe(by)
    lot = lot_of(salt, 3000)
    lot_of(salt, 500, state=StockLot.State.HELD, held_reason="Haze.")
    order_of(revision, today + timedelta(days=3), placed_on=today)
    order_of(revision, today + timedelta(days=10), placed_on=today - timedelta(days=20))
    round_of(revision, today + timedelta(days=17), by)
    charged(lot, 2000, a_year_before(today) + timedelta(days=2), by)
    charged(lot, 3000, a_year_before(today) + timedelta(days=24), by)
    # Neither the week before nor the one after the four weeks.
    charged(lot, 7777, a_year_before(today) - timedelta(days=1), by)
    charged(lot, 7777, a_year_before(today) + timedelta(days=28), by)
    shipped = {"status": Order.Status.SHIPPED, "mass_lb": 4240.0}
    long_ago = a_year_before(today) - timedelta(days=5)
    order_of(revision, long_ago, placed_on=long_ago, **shipped)
    return salt
