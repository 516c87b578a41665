"""What is on hand, what orders have reserved of it, what runs out when, which lot comes next."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any, Final

from django.db.models import F, Q, Sum
from django.db.models.functions import Coalesce

from formulas.engine_bridge import Catalogue
from formulas.models import BaseStock
from orders.frozen.consignment import Consignment
from orders.models import (
    Batch,
    BatchPart,
    Order,
    PoundsField,
    StockLot,
    StockMovement,
    StockPurchase,
    StockReservation,
)

#: Orders whose batches may still take stock.
RESERVING: Final = (Order.Status.OPEN, Order.Status.PLANNED)
#: Batches that may still take stock; what they have taken counts against the reservation. Any
#: other live batch has what it needed, and its share of the reservation is over.
STILL_CHARGING: Final = (Batch.Status.PLANNED, Batch.Status.CHARGING)
#: A stock of this trait that was never received comes from the main: it cannot run out.
FROM_THE_MAIN: Final = "water"
ZERO: Final = Decimal("0.000")


@dataclass(frozen=True, slots=True)
class Need:
    """What one open order still takes of a stock."""

    order_number: str
    due_on: date
    lb: Decimal


@dataclass(frozen=True, slots=True)
class StockLevel:
    """One stock on a day; masses in lb.

    ``on_hand`` is everything in the lots; ``held`` and ``expired`` are the parts of it that may
    not be used. ``needs`` stand in order of their due dates.
    """

    stock: BaseStock
    on_hand: Decimal
    held: Decimal
    expired: Decimal
    needs: tuple[Need, ...]

    @property
    def usable(self) -> Decimal:
        return self.on_hand - self.held - self.expired

    @property
    def reserved(self) -> Decimal:
        return sum((need.lb for need in self.needs), ZERO)

    @property
    def available(self) -> Decimal:
        """What a new order could have; negative when open orders want more than there is."""
        return self.usable - self.reserved

    @property
    def short_lb(self) -> Decimal:
        """What has to be bought to make every open order."""
        return max(ZERO, -self.available)

    @property
    def uncovered(self) -> tuple[Need, ...]:
        """The needs, earliest first, that what is on hand no longer covers, as far as short."""
        left, found = self.usable, []
        for need in self.needs:
            lacking = min(need.lb, need.lb - left)
            left -= need.lb
            if lacking > 0:
                found.append(Need(need.order_number, need.due_on, lacking))
        return tuple(found)

    @property
    def runs_out_on(self) -> date | None:
        """The due date of the first order that cannot be made from what is on hand."""
        uncovered = self.uncovered
        return uncovered[0].due_on if uncovered else None


@dataclass(frozen=True, slots=True)
class Purchase:
    """Buy so much in all by the day it is first needed, of which ``coming`` is on the way."""

    stock: BaseStock
    lb: Decimal
    by: date
    steps: tuple[Need, ...]
    coming: tuple[StockPurchase, ...] = ()


def stock_levels(today: date) -> list[StockLevel]:
    """Every stock with lots or needs, by code, in five queries however many there are.

    Water that was never received as a lot comes from the main and is left out.
    """
    sums = _lot_sums(today)
    needs = open_needs()
    stocks = BaseStock.objects.filter(pk__in=set(sums) | set(needs)).only("code", "name")
    main = from_the_main() - set(sums)
    return [
        StockLevel(
            stock=stock,
            on_hand=found["on_hand"],
            held=found["held"],
            expired=found["expired"],
            needs=tuple(needs.get(stock.pk, ())),
        )
        for stock in stocks.order_by("code")
        if stock.pk not in main
        for found in [sums.get(stock.pk, _NOTHING)]
    ]


def purchases(today: date) -> list[Purchase]:
    """What to buy, most urgent first; nothing while the plant keeps no lots at all.

    A plant that has not begun to receive lots knows nothing of its stock, and would otherwise
    be told to buy everything.
    """
    return purchases_of(stock_levels(today)) if StockLot.objects.exists() else []


def purchases_of(levels: Iterable[StockLevel]) -> list[Purchase]:
    """The same of levels that are at hand."""
    short = [(level, uncovered) for level in levels if (uncovered := level.uncovered)]
    coming = defaultdict[int, list[StockPurchase]](list)
    if short:
        stocks = [level.stock.pk for level, _ in short]
        for row in StockPurchase.objects.on_the_way().filter(stock__in=stocks):
            coming[row.stock_id].append(row)
    found = [
        Purchase(
            level.stock,
            level.short_lb,
            uncovered[0].due_on,
            uncovered,
            tuple(coming[level.stock.pk]),
        )
        for level, uncovered in short
    ]
    return sorted(found, key=lambda purchase: (purchase.by, purchase.stock.code))


def suggested_lots(stocks: Iterable[BaseStock | int], today: date) -> dict[int, list[StockLot]]:
    """Usable lots of each stock (by its id), the one to take first in front; two queries.

    First expired first, then first received. Held, empty and expired lots are never among them.
    """
    wanted = [stock if isinstance(stock, int) else stock.pk for stock in stocks]
    usable = StockLot.objects.usable(today).filter(stock__in=wanted)
    lots = usable.prefetch_related("figures").in_order_of_use()
    found: dict[int, list[StockLot]] = {pk: [] for pk in wanted}
    for lot in lots:
        found[lot.stock_id].append(lot)
    return found


def limits_from_stock(
    catalogue: Catalogue,
    volume_gal: float,
    today: date,
    *,
    density_lb_per_gal: float | None = None,
    spoken_for: Mapping[str, Decimal] | None = None,
) -> list[dict[str, Any]]:
    """``stock_limits`` of the formulation contract for "only what we have".

    The largest share of each catalogue stock that its available pounds allow in a fill of
    ``volume_gal``. A share is by weight and the blend's weight is not known before it is solved,
    so the densest stock on hand is assumed: never more than there is, perhaps a little less.
    Once a blend is solved, ask again with its density (lb/gal) and solve again for the rest.
    ``spoken_for`` is pounds by stock code that no order has reserved and something else takes.
    """
    taken = spoken_for or {}
    levels = {level.stock.code: level for level in stock_levels(today)}
    unlimited = {
        catalogue.codes[pk] for pk in from_the_main() if pk in catalogue.codes
    } - levels.keys()
    offered = [stock for stock in catalogue.stocks if stock.code not in unlimited]
    available = {
        stock.code: max(0.0, float(levels[stock.code].available - taken.get(stock.code, ZERO)))
        if stock.code in levels
        else 0.0
        for stock in offered
    }
    densest = max(
        (s.density_lb_per_gal for s in catalogue.stocks if available.get(s.code, 1.0) > 0),
        default=1.0,
    )
    mass_lb = volume_gal * (density_lb_per_gal or densest)
    shares = {code: 100 * lb / mass_lb for code, lb in available.items()}
    return [{"code": code, "max_pct": pct} for code, pct in shares.items() if pct < 100]


def open_needs() -> Mapping[int, list[Need]]:
    """What open orders still take of each stock (by its id), earliest due date first."""
    rows = StockReservation.objects.filter(order_line__order__status__in=RESERVING).order_by("pk")
    reservations = rows.values_list(
        "stock", "needed_lb", "order_line", "order_line__quantity", "order_line__order",
        "order_line__order__number", "order_line__order__due_on",
    )  # fmt: skip
    made = _made_shares()
    used = _used_while_charging()
    found: dict[int, dict[int, Need]] = defaultdict(dict)
    for stock, needed_lb, line, quantity, order, number, due_on in reservations:
        to_make = max(0, quantity - made.get(line, 0))
        left = round(needed_lb * to_make / quantity, 3) - used.get((line, stock), ZERO)
        if left > 0:
            before = found[stock].get(order)
            lb = left + (before.lb if before else ZERO)
            found[stock][order] = Need(number, due_on, lb)
    return {
        stock: sorted(of_orders.values(), key=lambda need: (need.due_on, need.order_number))
        for stock, of_orders in found.items()
    }


def ledger_differences() -> list[tuple[StockLot, Decimal]]:
    """Lots whose balance is not the sum of their movements, with that sum; empty when sound."""
    moved = Coalesce(Sum("movements__mass_lb"), 0, output_field=PoundsField())
    wrong = StockLot.objects.alias(moved=moved).exclude(moved=F("on_hand_lb")).order_by("code")
    sums = dict(wrong.values_list("pk", moved))
    return [(lot, sums[lot.pk]) for lot in wrong]


_NOTHING: Final = {"on_hand": ZERO, "held": ZERO, "expired": ZERO}


def _lot_sums(today: date) -> dict[int, dict[str, Decimal]]:
    held = Q(state=StockLot.State.HELD)
    sums = StockLot.objects.order_by().values("stock").annotate(
        on_hand=Sum("on_hand_lb"),
        held=Coalesce(Sum("on_hand_lb", filter=held), 0, output_field=PoundsField()),
        expired=Coalesce(
            Sum("on_hand_lb", filter=~held & Q(expires_on__lt=today)),
            0,
            output_field=PoundsField(),
        ),
    )  # fmt: skip
    return {row["stock"]: {key: row[key] for key in ("on_hand", "held", "expired")} for row in sums}


def from_the_main() -> set[int]:
    """Stocks (by id) that come from the main: nobody buys or runs out of them."""
    return set(
        BaseStock.objects.filter(traits__code=FROM_THE_MAIN, lots__isnull=True).values_list(
            "pk", flat=True
        )
    )


def _made_shares() -> dict[int, int]:
    """Packages of each open order line whose batches have taken all they take."""
    parts = BatchPart.objects.live().exclude(batch__status__in=STILL_CHARGING)
    sums = (
        parts.filter(order_line__order__status__in=RESERVING)
        .order_by()
        .values_list("order_line")
        .annotate(Sum("quantity"))
    )
    return dict(sums)


def _used_while_charging() -> dict[tuple[int, int], Decimal]:
    """Pounds that unfinished batches of open orders have taken, by order line and stock.

    What a common load has taken counts for its order lines by their gallons.
    """
    unfinished = Batch.objects.filter(status__in=STILL_CHARGING).order_by()
    moved = list(
        StockMovement.objects.filter(batch__in=unfinished.values("pk"))
        .order_by()
        .values_list("batch", "lot__stock")
        .annotate(Sum("mass_lb"))
    )
    shares = _shares_of({batch for batch, _, _ in moved})
    used: dict[tuple[int, int], Decimal] = defaultdict(lambda: ZERO)
    for batch, stock, mass in moved:
        for line, share in shares.get(batch, ()):
            used[line, stock] -= round(mass * share, 3)
    return used


def _shares_of(batches: set[int]) -> dict[int, list[tuple[int, Decimal]]]:
    """Order lines of each batch that still take stock, with their shares of its gallons."""
    parts = BatchPart.objects.filter(
        batch__in=batches, order_line__order__status__in=RESERVING
    ).order_by()
    found: dict[int, list[tuple[int, Decimal]]] = defaultdict(list)
    for batch, line, delivery, of_gal in parts.values_list(
        "batch", "order_line", "delivery", "batch__target_gal"
    ):
        found[batch].append(
            (line, Decimal(str(Consignment.from_json(delivery).volume_gal / of_gal)))
        )
    return found
