"""Saved blends at new costs: a hundred thousand of them as one packed array, by money at stake."""

from __future__ import annotations

import base64
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any, Final

import numpy as np
import numpy.typing as npt
from django.db.models import Max, Q, Sum

from blendshop.money import money
from formulas.engine_bridge import Catalogue
from formulas.models import Blend
from formulas.repricing.blocks import Recipes
from formulas.repricing.figures import recipe_costs
from orders.models import Order, OrderLine, Quote, QuoteLine

Integers = npt.NDArray[np.int64]
#: Little-endian, so that a row written on one machine is read on any.
_KIND: Final = np.dtype("<i8")
#: Ten-thousandths of a dollar, thousandths of a gallon.
_TICKS, _MILLI = 10_000, 1_000
#: What stands in place of a cost where a stock has none.
_UNPRICED: Final = -1


@dataclass(frozen=True, slots=True)
class BlendRow:
    """One blend by its newest revision: dollars a gallon of material before and at the new costs.

    ``gal`` is what open quotes and orders want of it; ``at_stake`` what its rise makes of that.
    """

    revision_id: int
    before_per_gal: Decimal | None
    after_per_gal: Decimal
    gal: float
    at_stake: Decimal

    @property
    def rise_per_gal(self) -> Decimal | None:
        return None if self.before_per_gal is None else self.after_per_gal - self.before_per_gal

    @property
    def rise_pct(self) -> Decimal | None:
        if not self.before_per_gal:
            return None
        return 100 * (self.after_per_gal / self.before_per_gal - 1)


def changed_recipes(recipes: Recipes, before: Catalogue, after: Catalogue) -> str:
    """Keys and costs of the recipes whose cost changes, packed as text."""
    old, new = recipe_costs(recipes, before), recipe_costs(recipes, after)
    ticks = np.where(old.is_priced, old.per_gal, _UNPRICED)
    places = np.flatnonzero(new.is_priced & (ticks != new.per_gal))
    rows = np.stack([recipes.revision_ids[places], ticks[places], new.per_gal[places]])
    return base64.b64encode(rows.astype(_KIND).tobytes()).decode()


def packed_blends(parts: Sequence[str], today: date) -> tuple[bytes, int]:
    """The blends of all parts by money at stake, then by rise; packed, and how many there are."""
    found = np.concatenate(
        [_rows(base64.b64decode(part), 3) for part in parts] or [np.empty((3, 0), _KIND)], axis=1
    )
    blend_of = _newest_revisions()
    newest = np.fromiter(blend_of, dtype=_KIND, count=len(blend_of))
    revision, before, after = found[:, np.isin(found[0], newest)]
    wanted = gallons_wanted(today)
    gal = np.array(
        [round(_MILLI * wanted.get(blend_of[pk], 0.0)) for pk in revision.tolist()], dtype=_KIND
    )
    rise = np.where(before == _UNPRICED, 0, after - before)
    order = np.lexsort((-rise, -rise * gal))
    rows = np.stack([revision, before, after, gal]).astype(_KIND)[:, order]
    return rows.tobytes(), len(revision)


def blend_rows(
    packed: bytes | memoryview, first: int = 0, last: int | None = None
) -> list[BlendRow]:
    """Some of the packed blends, in their order."""
    return [_row(*values) for values in _rows(packed, 4)[:, first:last].T.tolist()]


def steepest(packed: bytes | memoryview, most: int) -> list[BlendRow]:
    """The blends that rise by most cents a gallon."""
    rows = _rows(packed, 4)
    rise = np.where(rows[1] == _UNPRICED, 0, rows[2] - rows[1])
    places = np.argsort(-rise, kind="stable")[:most]
    return [_row(*values) for values in rows[:, places[rise[places] > 0]].T.tolist()]


def gallons_wanted(today: date) -> Mapping[int, float]:
    """Gallons of each blend in open quotes and orders, by its key; of choices the first counts."""
    wanted: dict[int, float] = {}
    lines: tuple[Any, ...] = (
        QuoteLine.objects.filter(
            Q(choice__isnull=True) | Q(choice=1), quote__in=Quote.objects.open_on(today)
        ),
        OrderLine.objects.filter(order__in=Order.objects.open()),
    )
    for rows in lines:
        sums = rows.order_by().values_list("revision__blend").annotate(Sum("volume_gal"))
        for blend, gal in sums:
            wanted[blend] = wanted.get(blend, 0.0) + gal
    return wanted


def _newest_revisions() -> dict[int, int]:
    """The blend of each newest revision that is no order's own."""
    own = Q(revisions__for_order_only=False)
    blends = Blend.objects.filter(archived=False).order_by()
    newest = blends.annotate(newest=Max("revisions__pk", filter=own))
    return dict(newest.filter(newest__isnull=False).values_list("newest", "pk"))


def _rows(packed: bytes | memoryview, columns: int) -> Integers:
    return np.frombuffer(packed, _KIND).reshape(columns, -1)


def _row(revision: int, before: int, after: int, milli_gal: int) -> BlendRow:
    rise = 0 if before == _UNPRICED else after - before
    return BlendRow(
        revision_id=revision,
        before_per_gal=None if before == _UNPRICED else Decimal(before) / _TICKS,
        after_per_gal=Decimal(after) / _TICKS,
        gal=milli_gal / _MILLI,
        at_stake=money(Decimal(rise) * milli_gal / (_TICKS * _MILLI)),
    )
