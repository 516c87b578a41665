"""What changed between an earlier price and today's, in sentences a customer may read.

No cost and no margin is named: a stock or a charge is only said to be the main reason.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from functools import partial
from typing import Final

from django.conf import settings
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from blendshop.figures.readers import reader
from blendshop.money import format_money, money, unit_price
from formulas.engine.composition import NAMES
from orders.frozen.line_price import LinePrice
from orders.pricing import PriceBreakdown, StepCode

#: Differences below this (percentage points) are not worth a sentence.
_SHOWN_PCT: Final = 0.005
#: Shares of one recipe, as they were rounded when it was saved.
_SAME_PCT: Final = 1e-6
#: Densities are written to two places.
_SHOWN_LB_PER_GAL: Final = 0.005
#: Steps that only follow from the others, or that a customer must not read of.
_FOLLOWING: Final = frozenset(
    {StepCode.MATERIAL, StepCode.SHRINK, StepCode.MARGIN, StepCode.DEPOSIT}
)
_CHARGES: Final = {
    StepCode.BLENDING_BATCH: gettext_lazy(
        "the batch charge, which is spread over the gallons ordered"
    ),
    StepCode.BLENDING_VOLUME: gettext_lazy("the blending charge"),
    StepCode.PACKAGE: gettext_lazy("the package"),
    StepCode.LAB: gettext_lazy("the laboratory charge, which is spread over the gallons ordered"),
    StepCode.TONNAGE: gettext_lazy("the state tonnage fee"),
    StepCode.FREIGHT: gettext_lazy("freight"),
    StepCode.DISCOUNT: gettext_lazy("the discount given then"),
    StepCode.QUOTE_DISCOUNT: gettext_lazy("the discount given then"),
}
_POLICY: Final = gettext_lazy("our price terms")


@dataclass(frozen=True, slots=True)
class Earlier:
    """An earlier price of the same thing: ``said`` names it, such as "order O-2026-0007".

    ``recipe`` in percent by weight by code and its ``lb_per_gal`` are those it was priced with.
    """

    said: str
    price_per_gal: Decimal
    per_gal: Mapping[str, Decimal]  # what each stock or charge came to per gallon
    recipe: Mapping[str, float]
    lb_per_gal: float

    @classmethod
    def of_line(cls, said: str, price: LinePrice) -> Earlier:
        """From the frozen price of an order or quote line."""
        return cls(
            said=said,
            price_per_gal=price.price_per_gal,
            per_gal=parts_per_gal(price),
            recipe={share.code: share.pct for share in price.blend.recipe},
            lb_per_gal=price.blend.density_lb_per_gal,
        )

    def weighs_differently(self, recipe: Mapping[str, float], lb_per_gal: float) -> bool:
        """Whether the same recipe now fills a gallon with another weight, to two decimals."""
        same = self.recipe.keys() == recipe.keys() and all(
            abs(pct - recipe[code]) < _SAME_PCT for code, pct in self.recipe.items()
        )
        return same and abs(lb_per_gal - self.lb_per_gal) >= _SHOWN_LB_PER_GAL


def parts_per_gal(price: PriceBreakdown) -> dict[str, Decimal]:
    """Dollars per gallon of each stock (by name) and of each charge (in words)."""
    parts: dict[str, Decimal] = {}
    for stock in price.material:
        parts[stock.name] = parts.get(stock.name, Decimal(0)) + stock.amount
    for step in price.steps:
        if step.code not in _FOLLOWING:
            charge = str(_CHARGES[step.code])
            parts[charge] = parts.get(charge, Decimal(0)) + step.amount
    return {name: amount / price.volume_gal for name, amount in parts.items()}


def price_sentence(earlier: Earlier | None, price: PriceBreakdown) -> str:
    """How the price per gallon moved since, and the main reason."""
    now = price.price_per_gal
    if earlier is None:
        return _("Price per gal {price}; there is no earlier order to compare it with.").format(
            price=_dollars(now, 4)
        )
    if now == earlier.price_per_gal:
        return _("Price per gal unchanged at {price} since {then}.").format(
            price=_dollars(now, 4), then=earlier.said
        )
    up = now > earlier.price_per_gal
    places = 4 if money(now) == money(earlier.price_per_gal) else 2
    if up:
        sentence = _("Price per gal up from {was} to {now} since {then}, mainly {reason}.")
    else:
        sentence = _("Price per gal down from {was} to {now} since {then}, mainly {reason}.")
    return sentence.format(
        was=_dollars(earlier.price_per_gal, places),
        now=_dollars(now, places),
        then=earlier.said,
        reason=_main_reason(earlier, price, up=up),
    )


def density_sentence(
    earlier: Earlier, lb_per_gal: float, price: PriceBreakdown, at_earlier_density: PriceBreakdown
) -> str:
    """That the same recipe fills a gallon with another weight now, and what that costs.

    ``at_earlier_density`` is today's price with the weight of then. Said once: what is ordered
    today is the earlier price of the next reorder.
    """
    was, now = (reader().density(each) for each in (earlier.lb_per_gal, lb_per_gal))
    change = price.price_per_gal - at_earlier_density.price_per_gal
    told = _("The recipe is figured with a better density since {then}: {now} instead of {was}.")
    if change > 0:
        moved = _(
            "What fills a gallon moves with it, which makes the price per gal {change} higher."
        )
    elif change < 0:
        moved = _(
            "What fills a gallon moves with it, which makes the price per gal {change} lower."
        )
    else:
        moved = _("What fills a gallon moves with it, which leaves the price per gal as it is.")
    told = told.format(then=earlier.said, now=now, was=was)
    return f"{told} {moved.format(change=_dollars(abs(change), 4))}"


def _main_reason(earlier: Earlier, price: PriceBreakdown, *, up: bool) -> str:
    """The stock or charge that moved the price most in the direction it went."""
    now = parts_per_gal(price)
    moved = {
        name: (now.get(name, Decimal(0)) - earlier.per_gal.get(name, Decimal(0)))
        * (1 if up else -1)
        for name in [*now, *earlier.per_gal]
    }
    name = max(moved, key=lambda part: moved[part], default="")
    # Below a hundredth of a cent per gallon nothing moved but the terms.
    return name if name and moved[name] >= Decimal("0.0001") else str(_POLICY)


def recipe_sentences(
    before: Mapping[str, float], after: Mapping[str, float], names: Mapping[str, str]
) -> Iterator[str]:
    """Stocks that left, came in, or changed their share (percent by weight, by code)."""
    number = partial(reader().number, places=1)
    for code, pct in before.items():
        if code not in after:
            yield _("{stock} leaves the recipe (was {pct} %).").format(
                stock=names.get(code, code), pct=number(pct)
            )
    for code, pct in after.items():
        if code not in before:
            yield _("{stock} comes in at {pct} %.").format(
                stock=names.get(code, code), pct=number(pct)
            )
        elif abs(pct - before[code]) >= 0.05:
            yield _("{stock} goes from {was} to {now} %.").format(
                stock=names.get(code, code), was=number(before[code]), now=number(pct)
            )


def analysis_sentences(
    before: Mapping[str, float],
    after: Mapping[str, float],
    slow_pct: tuple[float | None, float | None],
) -> Iterator[str]:
    """Contents that changed, and the slow-release share."""
    figures = reader()
    for key in [*before, *(key for key in after if key not in before)]:
        old, new = before.get(key, 0.0), after.get(key, 0.0)
        if abs(new - old) >= _SHOWN_PCT:
            was, now = (figures.number(pct, 2) for pct in (old, new))
            yield _("{content} goes from {was} to {now} %.").format(
                content=NAMES[key], was=was, now=now
            )
    old_slow, new_slow = slow_pct
    if abs((new_slow or 0.0) - (old_slow or 0.0)) >= 0.05:
        was, now = (figures.number(pct or 0.0, 1) for pct in (old_slow, new_slow))
        yield _("Slow-release share of N goes from {was} to {now} %.").format(was=was, now=now)


def _dollars(price: Decimal, places: int = 2) -> str:
    rounded = money(price) if places == 2 else unit_price(price)
    return format_money(rounded, settings.CURRENCY, places=places)
