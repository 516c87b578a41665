"""A stock plan as a page shows it and as it is accepted: plain rows, words, and a digest.

The digest covers everything that was shown but costs. Accepted is what was shown: when the plan
of that minute has another digest, it is shown again.
"""

from __future__ import annotations

import hashlib
import json
import math
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from typing import Any, Final

from django.utils.translation import gettext as _

from blendshop.figures.readers import reader
from blendshop.money import money
from formulas.engine.allocation.allocating import OrderPlan, OrderVerdict
from formulas.engine.storage.jar_distance import RegisteredJar, jar_verdict
from formulas.engine_bridge import unit_cost
from formulas.jar_tests.storage import USUAL_DAYS, USUAL_STORAGE_F, register_query
from formulas.models import JarTest
from orders.allocation.candidates import Candidate, whole
from orders.allocation.stock_plan import Allocation, Proposal, allocation
from orders.models import AcceptedStockPlan, Order, OrderLine

#: Decimals of pounds and of percent in what is frozen.
_PLACES: Final = 3
#: Differences below this, pounds or percent, are not worth a line.
_WORTH_SAYING: Final = 0.05


@dataclass(frozen=True, slots=True)
class Change:
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
        if self.own_pct < _WORTH_SAYING:
            return _("{new} % {name}, new in it ({mass})").format(
                new=new, name=self.name, mass=mass
            )
        if self.new_pct < _WORTH_SAYING:
            return _("no {name} any more, {own} % before ({mass} freed)").format(
                name=self.name, own=own, mass=mass
            )
        if self.lb > 0:
            sentence = _("{new} % {name} instead of {own} % ({mass} more)")
        else:
            sentence = _("{new} % {name} instead of {own} % ({mass} less)")
        return sentence.format(new=new, name=self.name, own=own, mass=mass)


@dataclass(frozen=True, slots=True)
class Missing:
    """What a line that waits lacks of one stock."""

    code: str
    name: str
    lb: float


@dataclass(frozen=True, slots=True)
class LineRow:
    """One line: whether it can be made now, from what, and what changes.

    ``mass_lb`` is by the recipe it is made by, or by its own one while it waits.
    ``why_fixed`` is said where a change might have helped. ``extra_cost`` is None unless the
    recipe changes; only those who see costs may be shown it.
    """

    line: OrderLine
    candidate: Candidate
    verdict: OrderVerdict
    mass_lb: float
    changes: tuple[Change, ...]
    shares: Mapping[str, float] | None
    missing: tuple[Missing, ...]
    why_fixed: str
    extra_cost: Decimal | None
    jar_tests: tuple[str, ...]
    jar_words: str
    jar_query: str

    @property
    def is_made_now(self) -> bool:
        return self.verdict in (OrderVerdict.OWN_RECIPE, OrderVerdict.CHANGED_RECIPE)

    @property
    def is_changed(self) -> bool:
        return self.shares is not None

    @property
    def other_revision(self) -> bool:
        """Whether an earlier plan gave it another revision than the accepted one."""
        return self.candidate.revision.pk != self.line.revision_id


@dataclass(frozen=True, slots=True)
class OrderRow:
    """An order with its lines that no batch covers."""

    order: Order
    lines: tuple[LineRow, ...]

    @property
    def verdict(self) -> str:
        """``full``, ``changed``, ``some`` or ``waits``."""
        made = [line.is_made_now for line in self.lines]
        if all(made):
            return "changed" if any(line.is_changed for line in self.lines) else "full"
        return "some" if any(made) else "waits"

    @property
    def summary(self) -> str:
        """One sentence for the order's history."""
        return " ".join(_line_words(line) for line in self.lines)


@dataclass(frozen=True, slots=True)
class StockRow:
    """One stock in pounds; ``buy_lb`` is what the waiting lines lack after the plan, by when."""

    code: str
    name: str
    on_hand_lb: float
    wanted_lb: float
    used_lb: float
    left_lb: float
    buy_lb: float
    buy_by: date | None


@dataclass(frozen=True, slots=True)
class StockPlanPage:
    """Orders in order of their due dates, and stocks. ``digest`` is empty with nothing to plan."""

    orders: tuple[OrderRow, ...]
    stocks: tuple[StockRow, ...]
    committed: tuple[Missing, ...]
    committed_short: tuple[Missing, ...]
    keeps_lots: bool
    is_exact: bool
    is_cut_short: bool
    gap_words: str
    from_the_main: tuple[str, ...]
    accepted: AcceptedStockPlan | None
    shown: Mapping[str, Any] = field(repr=False)
    digest: str

    @property
    def changed(self) -> tuple[LineRow, ...]:
        return tuple(line for row in self.orders for line in row.lines if line.is_changed)

    @property
    def purchases(self) -> tuple[StockRow, ...]:
        """What to buy, the earliest need first."""
        wanted = [row for row in self.stocks if row.buy_lb >= _WORTH_SAYING]
        return tuple(sorted(wanted, key=lambda row: (row.buy_by or date.max, row.code)))

    @property
    def is_accepted(self) -> bool:
        """Whether exactly this was accepted and nothing has changed since."""
        return self.accepted is not None and self.accepted.digest == self.digest

    def count(self, verdict: str) -> int:
        return sum(row.verdict == verdict for row in self.orders)

    @property
    def counts(self) -> dict[str, int]:
        return {each: self.count(each) for each in ("full", "changed", "some", "waits")}


def stock_plan_page(today: date) -> StockPlanPage:
    """Today's plan in words; nothing is written."""
    found = allocation(today)
    jars = [test.registered() for test in JarTest.objects.that_count()]
    orders = tuple(_order_rows(found, jars))
    stocks = tuple(_stock_rows(found))
    shown = _frozen(orders, stocks)
    plan = found.plan
    gap = "" if plan is None or plan.is_exact else _gap(plan.total, plan.bound)
    return StockPlanPage(
        orders=orders,
        stocks=stocks,
        committed=_named(found, found.committed_lb),
        committed_short=_named(found, found.committed_short_lb),
        keeps_lots=found.keeps_lots,
        is_exact=plan is None or plan.is_exact,
        is_cut_short=plan is not None and plan.is_cut_short,
        gap_words=gap,
        from_the_main=tuple(sorted(found.names[code] for code in found.from_the_main)),
        accepted=AcceptedStockPlan.objects.order_by("-pk").first(),
        shown=shown,
        digest=_digest(shown) if orders else "",
    )


def _gap(total: float, bound: float) -> str:
    """How much better a plan could be; the bound is proven, so this is never too little."""
    tenths = math.ceil(1000.0 * (total - bound) / total) if total > 0 else 0
    return _("at most {figure} % better is possible").format(figure=reader().number(tenths / 10, 1))


def _digest(shown: Mapping[str, Any]) -> str:
    text = json.dumps(shown, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


def _order_rows(found: Allocation, jars: Sequence[RegisteredJar]) -> Iterator[OrderRow]:
    of_order: dict[int, list[Proposal]] = defaultdict(list)
    for proposal in found.proposals:
        of_order[proposal.candidate.line.order_id].append(proposal)
    for proposals in of_order.values():
        yield OrderRow(
            order=proposals[0].candidate.line.order,
            lines=tuple(_line_row(proposal, found, jars) for proposal in proposals),
        )


def _line_row(proposal: Proposal, found: Allocation, jars: Sequence[RegisteredJar]) -> LineRow:
    candidate, plan = proposal.candidate, proposal.plan
    shares = None if plan.changed_pct is None else whole(plan.changed_pct)
    return LineRow(
        line=candidate.line,
        candidate=candidate,
        verdict=plan.verdict,
        mass_lb=plan.made_lb or candidate.mass_lb,
        changes=tuple(_changes(candidate, plan, found.names)) if shares else (),
        shares=shares,
        missing=_named(found, plan.missing_lb),
        why_fixed=candidate.why_fixed if plan.verdict is OrderVerdict.NOT_NOW else "",
        extra_cost=money(unit_cost(plan.extra_cost)) if shares else None,
        jar_tests=plan.jar_tests,
        jar_words=_jar_words(shares, jars) if shares else "",
        jar_query=register_query(shares) if shares else "",
    )


def _jar_words(shares: Mapping[str, float], jars: Sequence[RegisteredJar]) -> str:
    """Whether a jar like the changed recipe stayed clear as long and as cold as is usual."""
    return jar_verdict(shares, jars, days=USUAL_DAYS, temperature_f=USUAL_STORAGE_F).words


def _changes(candidate: Candidate, plan: OrderPlan, names: Mapping[str, str]) -> Iterator[Change]:
    new = whole(plan.changed_pct or {})
    for code in sorted({*candidate.recipe, *new}):
        own_pct, new_pct = candidate.recipe.get(code, 0.0), new.get(code, 0.0)
        if abs(new_pct - own_pct) >= _WORTH_SAYING:
            lb = (new_pct * plan.made_lb - own_pct * candidate.mass_lb) / 100.0
            yield Change(code, names[code], own_pct, new_pct, lb)


def _named(found: Allocation, lb: Mapping[str, float]) -> tuple[Missing, ...]:
    return tuple(
        Missing(code, found.names.get(code, code), amount)
        for code, amount in sorted(lb.items())
        if amount >= _WORTH_SAYING and code not in found.from_the_main
    )


def _stock_rows(found: Allocation) -> Iterator[StockRow]:
    if found.plan is None:
        return
    waiting = [p for p in found.proposals if p.plan.verdict is OrderVerdict.NOT_NOW]
    for stock in found.plan.stocks:
        if stock.code in found.from_the_main or not (stock.wanted_lb or stock.used_lb):
            continue
        lack, by = stock.left_lb, None
        for proposal in waiting:
            candidate = proposal.candidate
            needs = candidate.recipe.get(stock.code, 0.0) / 100.0 * candidate.mass_lb
            lack -= needs
            if by is None and needs and lack < -_WORTH_SAYING:
                by = candidate.line.order.due_on
        yield StockRow(
            code=stock.code,
            name=found.names[stock.code],
            on_hand_lb=stock.on_hand_lb,
            wanted_lb=stock.wanted_lb,
            used_lb=stock.used_lb,
            left_lb=stock.left_lb,
            buy_lb=max(0.0, -lack),
            buy_by=by,
        )


def _line_words(row: LineRow) -> str:
    what = f"Line {row.line.position}:"
    if row.verdict is OrderVerdict.OWN_RECIPE:
        return f"{what} can be made now."
    if row.shares is not None:
        return f"{what} can be made now with another recipe within its guarantees."
    lacks = ", ".join(f"{reader().mass(each.lb, 0)} {each.code}" for each in row.missing)
    return f"{what} waits for stock ({lacks or 'taken by more pressing orders'})."


def _frozen(orders: Sequence[OrderRow], stocks: Sequence[StockRow]) -> dict[str, Any]:
    """What the digest covers: every verdict, recipe and mass, rounded as on the page or finer."""
    return {
        "orders": [
            {
                "number": row.order.number,
                "due_on": row.order.due_on.isoformat(),
                "lines": [_frozen_line(line) for line in row.lines],
            }
            for row in orders
        ],
        "stocks": [
            {
                "code": row.code,
                "on_hand_lb": round(row.on_hand_lb, _PLACES),
                "used_lb": round(row.used_lb, _PLACES),
                "buy_lb": round(row.buy_lb, _PLACES),
            }
            for row in stocks
        ],
    }


def _frozen_line(row: LineRow) -> dict[str, Any]:
    return {
        "position": row.line.position,
        "quantity": row.candidate.quantity,
        "revision_id": row.candidate.revision.pk,
        "verdict": str(row.verdict),
        "recipe": None
        if row.shares is None
        else {code: round(pct, _PLACES) for code, pct in sorted(row.shares.items())},
        "missing_lb": {each.code: round(each.lb, _PLACES) for each in row.missing},
        "jar_tests": list(row.jar_tests),
        "jar_words": row.jar_words,
    }
