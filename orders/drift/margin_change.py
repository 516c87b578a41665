"""What another spread of a stock does to the margin of blends: the contract asked both ways."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import timedelta
from decimal import Decimal
from typing import Final

from django.db.models import Sum
from django.utils import timezone
from django.utils.translation import gettext as _

from blendshop.errors import DomainError
from blendshop.money import money, unit_price
from formulas.answers.answer import OutOfReachAnswer, SolvedAnswer
from formulas.answers.margin import MarginKept
from formulas.answers.wish import AssaySpread, MarginWish
from formulas.contracts.formulation import formulate
from formulas.engine.composition import SHORT_NAMES
from formulas.engine.wishes import SLOW_RELEASE
from formulas.engine_bridge import Catalogue, exact, load_catalogue
from formulas.models import BaseStock, Blend, BlendRevision
from orders.blend_page.margin import chance_words
from orders.blend_page.spreads import margin_of
from orders.models import Order, OrderLine

#: Where a blend's wish has no margin: the chance the blend page begins with.
USUAL_CHANCE: Final = 0.01
#: Ordered within so many days counts.
YEAR_DAYS: Final = 365
SHOWN_BLENDS: Final = 3
_NO_ORDERS: Final = (Order.Status.REQUESTED, Order.Status.CANCELLED, Order.Status.DECLINED)


@dataclass(frozen=True, slots=True)
class OrderedBlend:
    """A blend that holds the stock, and how much of it was ordered within a year."""

    blend: Blend
    ordered_gal: float


@dataclass(frozen=True, slots=True)
class Kept:
    """One guarantee of a blend with its margin, percent."""

    aim_pct: float
    expected_pct: float
    sigma_pct: float


@dataclass(frozen=True, slots=True)
class GuaranteeChange:
    """``over_*`` is how far the blend is expected above its guarantee, points."""

    name: str
    guarantee_pct: float
    before: Kept
    after: Kept

    @property
    def over_before(self) -> float:
        return self.before.expected_pct - self.guarantee_pct

    @property
    def over_after(self) -> float:
        return self.after.expected_pct - self.guarantee_pct


@dataclass(frozen=True, slots=True)
class MarginChange:
    """Of one blend at today's costs; dollars of material that the margin adds to a gallon.

    ``in_a_year`` is the difference over what was ordered within a year. ``why_not`` says why
    nothing can be compared, empty where it can.
    """

    blend: Blend
    chance: str
    ordered_gal: float
    rows: tuple[GuaranteeChange, ...] = ()
    per_gal_before: Decimal | None = None
    per_gal_after: Decimal | None = None
    in_a_year: Decimal | None = None
    why_not: str = ""


def blends_with(stock: BaseStock, most: int) -> list[OrderedBlend]:
    """Blends that hold the stock, the most ordered first; saved ones where none was ordered."""
    since = timezone.now() - timedelta(days=YEAR_DAYS)
    ordered = (
        OrderLine.objects.filter(revision__lines__stock=stock, order__created_at__gte=since)
        .exclude(order__status__in=_NO_ORDERS)
        .values("revision__blend")
        .annotate(gal=Sum("volume_gal"))
        .order_by("-gal", "revision__blend")
    )
    gallons = {row["revision__blend"]: float(row["gal"]) for row in ordered[:most]}
    blends = Blend.objects.in_bulk(gallons)
    found = [OrderedBlend(blends[pk], gal) for pk, gal in gallons.items()]
    if found:
        return found
    saved = Blend.objects.filter(archived=False, revisions__lines__stock=stock).distinct()
    return [OrderedBlend(blend, 0.0) for blend in saved.order_by("-pk")[:most]]


def margin_change(
    ordered: OrderedBlend, stock: BaseStock, before: AssaySpread, after: AssaySpread
) -> MarginChange:
    """The blend's newest wish solved with either spread of the stock, all else as it is today."""
    revision = ordered.blend.latest
    wished = revision.wished.margin
    chance = USUAL_CHANCE if wished is None else wished.chance
    plain = MarginChange(ordered.blend, chance_words(chance), ordered.ordered_gal)
    catalogue = load_catalogue(timezone.localdate())
    now = margin_of(chance)
    try:
        was, becomes = (
            _solved(revision, replace(now, assay={**now.assay, stock.code: spread}), catalogue)
            for spread in (before, after)
        )
    except DomainError as error:
        return replace(plain, why_not=error.message)
    if was is None or becomes is None:
        return replace(plain, why_not=_("At today's costs and stocks it cannot keep a margin."))
    per_gal_before, per_gal_after = _per_gal(was), _per_gal(becomes)
    dearer = (per_gal_after - per_gal_before) * exact(ordered.ordered_gal)
    kept_before, kept_after = _by_key(was), _by_key(becomes)
    return replace(
        plain,
        rows=tuple(
            GuaranteeChange(_name(key), guarantee, kept_before[key], kept_after[key])
            for key, guarantee in _guarantees(was).items()
            if key in kept_after
        ),
        per_gal_before=per_gal_before,
        per_gal_after=per_gal_after,
        in_a_year=money(dearer),
    )


def _solved(
    revision: BlendRevision, margin: MarginWish, catalogue: Catalogue
) -> SolvedAnswer | None:
    """None where it is out of reach."""
    wish = replace(revision.wished, margin=margin)
    answer = formulate(wish.contract_json(), catalogue=catalogue).answer
    return None if isinstance(answer, OutOfReachAnswer) else answer


def _margin(answer: SolvedAnswer) -> MarginKept:
    if answer.margin is None:
        raise TypeError("An answer to a wish with a margin has one.")
    return answer.margin


def _per_gal(answer: SolvedAnswer) -> Decimal:
    per_lb = _margin(answer).cost_per_lb
    return unit_price(per_lb * exact(answer.totals.density_lb_per_gal))


def _guarantees(answer: SolvedAnswer) -> Mapping[str, float]:
    return {each.key: each.guarantee_pct for each in _margin(answer).guarantees}


def _by_key(answer: SolvedAnswer) -> Mapping[str, Kept]:
    return {
        each.key: Kept(each.aim_pct, each.expected_pct, each.sigma_pct)
        for each in _margin(answer).guarantees
    }


def _name(key: str) -> str:
    return _("Slow release, % of N") if key == SLOW_RELEASE else SHORT_NAMES[key]
