"""What a released batch can be sold as when it misses a promise: exactly what its papers print.

Nothing can be added to it any more, so there is nothing to correct; the customer agrees to what
is there, or it stays.
"""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Iterator, Mapping
from decimal import Decimal

from django.utils.translation import gettext as _

from formulas.engine.composition import SLOW_RELEASE, guarantee_name
from formulas.engine.label.assay_check import Verdict
from formulas.engine.label.printed_figures import trimmed
from formulas.engine.label.rules import SLOW_SHARE_PCT
from formulas.engine_bridge import exact
from orders.models import Batch
from orders.production.as_made import promised
from orders.production.corrections import LowerLine, LowerOffer, Proposal
from orders.production.made_record import MadeRecord, made_record
from orders.production.sold_as import grade_of, sold_as


def as_it_stands(batch: Batch) -> Proposal | None:
    """The offer of a released batch; None while it keeps what was promised or agreed."""
    record = made_record(batch)
    made = record.complete
    parts = [sold_as(record, part) for part in batch.parts.all()]
    if made is None or not any(part.needs_agreement for part in parts):
        return None
    lines: dict[str, Decimal] = {}
    for part in parts:
        # A state of whole numbers prints less of what all of them hold.
        for key, pct in part.lines_held.items():
            lines[key] = max(pct, lines.get(key, pct))
    minima, slow = promised(batch)
    kept = {check.key for check in made.guarantees if check.verdict is Verdict.MEETS}
    now = {
        key: min(was, float(lines[key])) if key in lines else was
        for key, was in minima.items()
        if key in lines or key in kept
    }
    now_slow = slow if SLOW_RELEASE in kept else _whole_share(made.slow_release_pct)
    offer = LowerOffer(
        grade=grade_of({key: trimmed(exact(pct)) for key, pct in now.items()}),
        minima_pct=now,
        slow_release_min_pct=now_slow,
        lines=tuple(_changed(minima, slow, now, now_slow)),
        targets=(),
        additions=(),
        digest=_digest(record, now, now_slow),
    )
    return Proposal(
        sentence=_("It is released and holds less than was promised; nothing is added any more."),
        offer=offer,
        capacity_gal=batch.tank.capacity_gal,
    )


def _whole_share(pct: float | None) -> float | None:
    """A share of nitrogen in whole percents; None where it is too little to be claimed."""
    whole = math.floor(pct or 0.0)
    return float(whole) if whole >= SLOW_SHARE_PCT else None


def _changed(
    minima: Mapping[str, float],
    slow: float | None,
    now: Mapping[str, float],
    now_slow: float | None,
) -> Iterator[LowerLine]:
    for key, was in minima.items():
        yield LowerLine(guarantee_name(key), was, now.get(key))
    if slow is not None:
        yield LowerLine(guarantee_name(SLOW_RELEASE), slow, now_slow)


def _digest(record: MadeRecord, now: Mapping[str, float], now_slow: float | None) -> str:
    """Of what was charged and of what was shown about it."""
    charges = [charge.pk for step in record.steps for charge in step.charges]
    seen = [record.batch.pk, charges, now, now_slow]
    return hashlib.sha256(json.dumps(seen, sort_keys=True).encode()).hexdigest()[:16]
