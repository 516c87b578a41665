"""What a little more of a wish costs in material."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from blendshop.money import money
from formulas.answers.answer import SolvedAnswer
from formulas.engine_bridge import exact
from orders.blend_page.page_wish import PageWish
from orders.blend_page.wish_place import Unit, WishPlace
from orders.blend_page.wording import one_more_words

#: A wish of less than one percent is asked for in tenths, so it is priced in tenths.
_TENTH: Final = Decimal("0.1")


@dataclass(frozen=True, slots=True)
class WishPrice:
    """What a little more of a wish costs or saves in material, per gallon of blend."""

    words: str
    amount: Decimal
    saves: bool


def wish_prices_of(answer: SolvedAnswer, wish: PageWish) -> Iterator[WishPrice]:
    """What one more percent (a tenth below one percent) of each binding wish costs per gallon."""
    density = exact(answer.totals.density_lb_per_gal)
    for item in answer.sensitivity:
        place = wish.place_of(item.field)
        if place is None or not item.cost_per_unit:
            continue
        step = _TENTH if _is_small(place) else Decimal(1)
        amount = money(item.cost_per_unit * density * step)
        if amount:
            yield WishPrice(one_more_words(place, str(step)), abs(amount), saves=amount < 0)


def _is_small(place: WishPlace) -> bool:
    return place.unit is Unit.PCT and 0 < place.asked < 1
