"""The plan of a moment as it is stored and shown: from the engine's answer to plain rows."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from datetime import date

from django.utils import timezone

from blendshop.money import money
from formulas.contracts.deadline import decided
from formulas.engine.allocation.allocating import OrderPlan, OrderVerdict
from formulas.engine.storage.jar_distance import RegisteredJar, jar_verdict
from formulas.engine_bridge import unit_cost
from formulas.jar_tests.storage import USUAL_DAYS, USUAL_STORAGE_F, register_query
from formulas.models import JarTest
from orders.allocation.candidates import Candidate, whole
from orders.allocation.plan_state import plan_state
from orders.allocation.stock_plan import Allocation, Proposal, allocation
from orders.frozen.stock_plan import (
    WORTH_SAYING,
    PlannedLine,
    PlannedOrder,
    PlannedStock,
    ShareChange,
    StockPlan,
    StockPounds,
)


def work_out_plan(today: date) -> StockPlan:
    """The plan of now; nothing is written. TooLargeToDecide where it takes too much work.

    What changes while it is worked out makes it a plan of before: ``state`` is read first.
    """
    state, as_of = plan_state(today), timezone.now()
    with decided():
        found = allocation(today)
    jars = [test.registered() for test in JarTest.objects.that_count()]
    plan = found.plan
    return StockPlan(
        state=state,
        as_of=as_of,
        orders=tuple(_orders(found, jars)),
        stocks=tuple(_stocks(found)),
        committed=_named(found, found.committed_lb),
        committed_short=_named(found, found.committed_short_lb),
        keeps_lots=found.keeps_lots,
        gap_pct=None if plan is None or plan.is_exact else _gap_pct(plan.total, plan.bound),
        is_cut_short=plan is not None and plan.is_cut_short,
        from_the_main=tuple(sorted(found.names[code] for code in found.from_the_main)),
    )


def _gap_pct(total: float, bound: float) -> float:
    """How much better a plan could be, tenths; the bound is proven, so it is never too little."""
    return math.ceil(1000.0 * (total - bound) / total) / 10 if total > 0 else 0.0


def _orders(found: Allocation, jars: Sequence[RegisteredJar]) -> Iterator[PlannedOrder]:
    of_order: dict[int, list[Proposal]] = defaultdict(list)
    for proposal in found.proposals:
        of_order[proposal.candidate.line.order_id].append(proposal)
    for proposals in of_order.values():
        order = proposals[0].candidate.line.order
        yield PlannedOrder(
            order_id=order.pk,
            number=order.number,
            company=str(order.company),
            due_on=order.due_on,
            lines=tuple(_line(proposal, found, jars) for proposal in proposals),
        )


def _line(proposal: Proposal, found: Allocation, jars: Sequence[RegisteredJar]) -> PlannedLine:
    candidate, plan = proposal.candidate, proposal.plan
    line, package = candidate.line, candidate.line.package
    shares = None if plan.changed_pct is None else whole(plan.changed_pct)
    return PlannedLine(
        line_id=line.pk,
        position=line.position,
        revision_id=candidate.revision.pk,
        revision_number=candidate.revision.number,
        accepted_id=line.revision_id,
        accepted_number=line.revision.number,
        blend=line.revision.blend.name,
        grade=line.revision.grade,
        package=package.name,
        packages=package.plural_name,
        is_bulk=package.is_bulk,
        quantity=candidate.quantity,
        ordered=line.quantity,
        volume_gal=candidate.volume_gal,
        own_lb=candidate.mass_lb,
        mass_lb=plan.made_lb or candidate.mass_lb,
        verdict=plan.verdict,
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


def _changes(
    candidate: Candidate, plan: OrderPlan, names: Mapping[str, str]
) -> Iterator[ShareChange]:
    new = whole(plan.changed_pct or {})
    for code in sorted({*candidate.recipe, *new}):
        own_pct, new_pct = candidate.recipe.get(code, 0.0), new.get(code, 0.0)
        if abs(new_pct - own_pct) >= WORTH_SAYING:
            lb = (new_pct * plan.made_lb - own_pct * candidate.mass_lb) / 100.0
            yield ShareChange(code=code, name=names[code], own_pct=own_pct, new_pct=new_pct, lb=lb)


def _named(found: Allocation, lb: Mapping[str, float]) -> tuple[StockPounds, ...]:
    return tuple(
        StockPounds(code=code, name=found.names.get(code, code), lb=amount)
        for code, amount in sorted(lb.items())
        if amount >= WORTH_SAYING and code not in found.from_the_main
    )


def _stocks(found: Allocation) -> Iterator[PlannedStock]:
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
            if by is None and needs and lack < -WORTH_SAYING:
                by = candidate.line.order.due_on
        yield PlannedStock(
            code=stock.code,
            name=found.names[stock.code],
            on_hand_lb=stock.on_hand_lb,
            wanted_lb=stock.wanted_lb,
            used_lb=stock.used_lb,
            left_lb=stock.left_lb,
            buy_lb=max(0.0, -lack),
            buy_by=by,
        )
