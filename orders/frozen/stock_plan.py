"""A plan of scarce stock as it was worked out: orders, what changes, stocks, and a digest of it."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any, Final

from django.utils.translation import gettext as _

from blendshop.figures.readers import reader
from blendshop.snapshot import Snapshot
from formulas.engine.allocation.allocating import OrderVerdict

#: Decimals of pounds and of percent in what the digest covers.
_PLACES: Final = 3
#: Differences below this, pounds or percent, are not worth a line.
WORTH_SAYING: Final = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class ShareChange(Snapshot):
    """One stock's share in the order's own recipe and in the proposed one."""

    code: str
    name: str
    own_pct: float
    new_pct: float
    lb: float

    @property
    def words(self) -> str:
        figures = reader()
        own, new = (figures.number(pct, 1) for pct in (self.own_pct, self.new_pct))
        mass = figures.mass(abs(self.lb), 0)
        if self.own_pct < WORTH_SAYING:
            return _("{new} % {name}, new in it ({mass})").format(
                new=new, name=self.name, mass=mass
            )
        if self.new_pct < WORTH_SAYING:
            return _("no {name} any more, {own} % before ({mass} freed)").format(
                name=self.name, own=own, mass=mass
            )
        if self.lb > 0:
            sentence = _("{new} % {name} instead of {own} % ({mass} more)")
        else:
            sentence = _("{new} % {name} instead of {own} % ({mass} less)")
        return sentence.format(new=new, name=self.name, own=own, mass=mass)


@dataclass(frozen=True, slots=True, kw_only=True)
class StockPounds(Snapshot):
    """So many pounds of a stock."""

    code: str
    name: str
    lb: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedLine(Snapshot):
    """One line: whether it can be made now, from what, and what changes.

    ``revision_id`` is the recipe it was planned by, ``accepted_id`` the one its customer accepted.
    ``mass_lb`` is by the recipe it is made by, or by its own one (``own_lb``) while it waits.
    ``quantity`` is what no batch covers of ``ordered``. ``why_fixed`` is said where a change might
    have helped. ``extra_cost`` is None unless the recipe changes; only those who see costs may be
    shown it.
    """

    line_id: int
    position: int
    revision_id: int
    revision_number: int
    accepted_id: int
    accepted_number: int
    blend: str
    grade: str
    package: str
    packages: str
    is_bulk: bool
    quantity: int
    ordered: int
    volume_gal: float
    own_lb: float
    mass_lb: float
    verdict: OrderVerdict
    changes: tuple[ShareChange, ...] = ()
    shares: Mapping[str, float] | None = None
    missing: tuple[StockPounds, ...] = ()
    why_fixed: str = ""
    extra_cost: Decimal | None = None
    jar_tests: tuple[str, ...] = ()
    jar_words: str = ""
    jar_query: str = ""

    @property
    def is_made_now(self) -> bool:
        return self.verdict in (OrderVerdict.OWN_RECIPE, OrderVerdict.CHANGED_RECIPE)

    @property
    def is_changed(self) -> bool:
        return self.shares is not None

    @property
    def other_revision(self) -> bool:
        """Whether an earlier plan gave it another revision than the accepted one."""
        return self.revision_id != self.accepted_id

    @property
    def has_no_batch(self) -> bool:
        return self.quantity == self.ordered

    def covered(self) -> dict[str, Any]:
        """What the digest covers."""
        return {
            "position": self.position,
            "quantity": self.quantity,
            "revision_id": self.revision_id,
            "verdict": self.verdict.value,
            "recipe": None
            if self.shares is None
            else {code: round(pct, _PLACES) for code, pct in sorted(self.shares.items())},
            "missing_lb": {each.code: round(each.lb, _PLACES) for each in self.missing},
            "jar_tests": list(self.jar_tests),
            "jar_words": self.jar_words,
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedOrder(Snapshot):
    """An order with its lines that no batch covers."""

    order_id: int
    number: str
    company: str
    due_on: date
    lines: tuple[PlannedLine, ...]

    @property
    def verdict(self) -> str:
        """``full``, ``changed``, ``some`` or ``waits``."""
        made = [line.is_made_now for line in self.lines]
        if all(made):
            return "changed" if any(line.is_changed for line in self.lines) else "full"
        return "some" if any(made) else "waits"


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedStock(Snapshot):
    """One stock in pounds; ``buy_lb`` is what the waiting lines lack after the plan, by when."""

    code: str
    name: str
    on_hand_lb: float
    wanted_lb: float
    used_lb: float
    left_lb: float
    buy_lb: float
    buy_by: date | None = None

    @property
    def is_short(self) -> bool:
        return self.wanted_lb > self.on_hand_lb


@dataclass(frozen=True, slots=True, kw_only=True)
class StockPlan(Snapshot):
    """Orders in order of their due dates, and stocks.

    ``state`` says of what orders, stocks and recipes it was worked out, at ``as_of``. ``gap_pct``
    is how much better a plan could be at most; None where none is better. ``is_cut_short`` where
    the work it may take ended it.
    """

    state: str
    as_of: datetime
    orders: tuple[PlannedOrder, ...] = ()
    stocks: tuple[PlannedStock, ...] = ()
    committed: tuple[StockPounds, ...] = ()
    committed_short: tuple[StockPounds, ...] = ()
    keeps_lots: bool = True
    gap_pct: float | None = None
    is_cut_short: bool = False
    from_the_main: tuple[str, ...] = ()

    @property
    def is_exact(self) -> bool:
        return self.gap_pct is None

    @property
    def changed(self) -> tuple[PlannedLine, ...]:
        return tuple(line for row in self.orders for line in row.lines if line.is_changed)

    @property
    def purchases(self) -> tuple[PlannedStock, ...]:
        """What to buy, the earliest need first."""
        wanted = [row for row in self.stocks if row.buy_lb >= WORTH_SAYING]
        return tuple(sorted(wanted, key=lambda row: (row.buy_by or date.max, row.code)))

    @property
    def counts(self) -> dict[str, int]:
        verdicts = [row.verdict for row in self.orders]
        return {each: verdicts.count(each) for each in ("full", "changed", "some", "waits")}

    def covered(self) -> dict[str, Any]:
        """What is accepted: every verdict, recipe and mass, rounded as on the page or finer."""
        return {
            "orders": [_covered_order(row) for row in self.orders],
            "stocks": [
                {
                    "code": row.code,
                    "on_hand_lb": round(row.on_hand_lb, _PLACES),
                    "used_lb": round(row.used_lb, _PLACES),
                    "buy_lb": round(row.buy_lb, _PLACES),
                }
                for row in self.stocks
            ],
        }

    @property
    def digest(self) -> str:
        """Of everything that is shown but costs; empty with nothing to plan."""
        if not self.orders:
            return ""
        text = json.dumps(self.covered(), sort_keys=True, separators=(",", ":"))
        return hashlib.sha256(text.encode()).hexdigest()


def _covered_order(row: PlannedOrder) -> dict[str, Any]:
    lines: Sequence[PlannedLine] = row.lines
    return {
        "number": row.number,
        "due_on": row.due_on.isoformat(),
        "lines": [line.covered() for line in lines],
    }
