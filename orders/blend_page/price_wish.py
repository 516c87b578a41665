"""A selling price as a wish: worked back to what the material may cost, until the price is kept.

The price of a recipe says how dear its material may be (``against_price``), and the recipe found
within that has a freight, a room for weighing and a weight of its own, so it is asked again until
neither moves. What is found is priced like any other blend: its printed price is at most the
wished one, to the cent.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Final

from blendshop.money import UNIT_PRICE_STEP, money, unit_price
from formulas.answers.answer import AlternativeAnswer, OutOfReachAnswer
from formulas.answers.wish import CostPerGal, Objective, Wish
from formulas.contracts.formulation import Formulation
from formulas.engine.problem import Per
from formulas.engine.result import Blend
from formulas.engine.wishes import Side
from orders.blend_page import fields as f
from orders.blend_page.page_wish import CEILING_PATH, PageWish
from orders.blend_page.price_asked import asked_for
from orders.blend_page.price_fields import GALLON
from orders.blend_page.prices import Pricer
from orders.blend_page.wish_form import WishForm
from orders.blend_page.wish_place import Unit, WishPlace
from orders.blend_page.wording import price_subject
from orders.pricing import PriceBreakdown
from orders.quoting.price_ceiling import AgainstPrice
from orders.quoting.requests import WishedBlend

#: Recipes after which a ceiling has settled, or never will; two or three do.
_ROUNDS: Final = 10
#: Dollars per gallon by which a ceiling falls at least where its blend is too dear, twice as much
#: each time: weights come in whole divisions, so that a price moves in steps.
_FALL: Final = Decimal("0.0005")

Ask = Callable[[PageWish], Formulation]


@dataclass(frozen=True, slots=True)
class PriceWish:
    """The most a gallon or a package is to sell for, dollars and cents."""

    most: Decimal
    per: str

    def of(self, breakdown: PriceBreakdown) -> Decimal | None:
        """What a price is in this unit, as printed; None for a package in bulk."""
        is_gallon = self.per == GALLON
        price = breakdown.price_per_gal if is_gallon else breakdown.price_per_package
        return None if price is None else money(price)

    def keeps(self, breakdown: PriceBreakdown) -> bool:
        """Whether a price is low enough."""
        found = self.of(breakdown)
        return found is not None and found <= self.most


@dataclass(frozen=True, slots=True)
class Answered:
    """A wish with its ceiling, the answer, and the least price that can be had if it is missed."""

    asked: PageWish
    formulation: Formulation
    least: Decimal | None = None


def price_wish_of(form: WishForm, pricer: Pricer) -> PriceWish | None:
    """The price typed, if it is for what the order leaves in; shares typed in full have none."""
    most = form.cleaned_data.get(f.PRICE_ASKED)
    if most is None:
        return None
    per = form.cleaned_data[f.PRICE_ASKED_PER]
    if per != GALLON and not asked_for(pricer.package, per):
        return None
    return PriceWish(money(Decimal(repr(most))), per)


def within_price(asked: PageWish, wish: PriceWish, pricer: Pricer, ask: Ask) -> Answered:
    """The best blend that sells for no more; out of reach with the least price where none does.

    ``ask`` formulates a wish. Where nothing can be priced the wish is answered without the price.
    """
    free = ask(asked)
    if not free.blends:
        return Answered(asked, free)
    against = _Against(asked, wish, pricer)
    answer = free.answer
    promised = None
    if isinstance(answer, OutOfReachAnswer):
        promised = answer.out_of_reach.alternatives[0].request
    first = against.of(free.blends[0], promised)
    if first is None:
        return Answered(asked, free)
    aim = asked.wish.objective
    if not first.is_kept and isinstance(aim, Objective) and aim.cheapest_per is Per.GAL:
        limited = against.limited(_steps(first.ceiling_per_gal))
        missed = Answered(limited, ask(limited), wish.of(first.breakdown))
        if missed.formulation.blend is None:
            return _honest(against, missed, ask)
    found = _settled(against, _steps(first.ceiling_per_gal), ask)
    return found if found.formulation.blend is not None else _honest(against, found, ask)


def _settled(against: _Against, ceiling: Decimal, ask: Ask) -> Answered:
    """From a first ceiling to the widest whose blend keeps the price."""
    best: Answered | None = None
    fall = _FALL
    for _ in range(_ROUNDS):
        limited = against.limited(ceiling)
        last = Answered(limited, ask(limited))
        blend = last.formulation.blend
        priced = None if blend is None else against.of(blend)
        if blend is None and best is None:
            return _at_the_cheapest(against, last, ask)
        if priced is None:
            break
        if priced.is_kept:
            best = last
        elif best is not None:
            break
        wider = _steps(priced.ceiling_per_gal)
        if priced.is_kept and (wider <= ceiling or against.is_used_up(priced)):
            break
        if not priced.is_kept:
            wider, fall = min(wider, ceiling - fall), 2 * fall
        ceiling = wider
    return best or last


def _at_the_cheapest(against: _Against, missed: Answered, ask: Ask) -> Answered:
    """Where a ceiling is missed: with what the cheapest gallon shows that the material may cost.

    It is a lighter freight or a smaller fee that makes the difference, if anything does.
    """
    cheapest = ask(against.cheapest())
    lowest = None if cheapest.blend is None else against.of(cheapest.blend)
    if lowest is None:
        return missed
    if not lowest.is_kept:
        return replace(missed, least=against.wish.of(lowest.breakdown))
    limited = against.limited(_steps(lowest.ceiling_per_gal))
    found = Answered(limited, ask(limited))
    priced = None if found.formulation.blend is None else against.of(found.formulation.blend)
    # The cheapest gallon keeps the price, whatever another aim makes of it.
    return (
        found if priced is not None and priced.is_kept else Answered(against.cheapest(), cheapest)
    )


def _honest(against: _Against, missed: Answered, ask: Ask) -> Answered:
    """Alternatives that are to keep the price keep it as it is printed for each of them.

    One that does not, as its own weighing asks for more room, is looked for again with what its
    material may cost; where there is none it stays and is not said to keep the price.
    """
    formulation = missed.formulation
    answer = formulation.answer
    if not isinstance(answer, OutOfReachAnswer):
        return missed
    instead, blends = list(answer.out_of_reach.alternatives), list(formulation.blends)
    for place, each in enumerate(instead):
        again = against.closer(missed, each, blends[place], ask)
        if again is not None:
            instead[place], blends[place] = again
    told = replace(answer.out_of_reach, alternatives=tuple(instead))
    formulation = replace(
        formulation, answer=replace(answer, out_of_reach=told), blends=tuple(blends)
    )
    return replace(missed, formulation=formulation)


class _Against:
    """One wish and its neighbours against one price."""

    def __init__(self, asked: PageWish, wish: PriceWish, pricer: Pricer) -> None:
        self._asked, self.wish, self._pricer = asked, wish, pricer

    def of(self, blend: Blend, wished: Wish | None = None) -> AgainstPrice | None:
        """``wished`` is what the blend promises: an alternative only what it was found for."""
        promised = WishedBlend(wished or self._asked.wish, blend)
        return self._pricer.against(promised, self.wish.keeps)

    def is_used_up(self, priced: AgainstPrice) -> bool:
        """Whether the price is the wished one to the cent: no wider ceiling makes it better."""
        return self.wish.of(priced.breakdown) == self.wish.most

    def closer(
        self, missed: Answered, instead: AlternativeAnswer, blend: Blend, ask: Ask
    ) -> tuple[AlternativeAnswer, Blend] | None:
        """The same wish given way further, until the price is kept; None if it is, or never."""
        own, gives_way = missed.asked.wish.cost_per_gal, _fields(instead)
        priced = self.of(blend, instead.request)
        if own is None or priced is None or priced.is_kept or CEILING_PATH in gives_way:
            return None
        lower = Decimal(repr(own.max)) - UNIT_PRICE_STEP
        found = ask(self.limited(min(_steps(priced.ceiling_per_gal), lower)))
        answer = found.answer
        if not isinstance(answer, OutOfReachAnswer):
            return None
        for each, other in zip(answer.out_of_reach.alternatives, found.blends, strict=True):
            again = self.of(other, each.request) if _fields(each) == gives_way else None
            if again is not None and again.is_kept:
                return each, other
        return None

    def limited(self, ceiling: Decimal) -> PageWish:
        """The wish with the ceiling; one on the material itself holds beside it."""
        own = self._asked.wish.cost_per_gal
        most = max(float(ceiling), float(UNIT_PRICE_STEP))
        if own is not None and own.max <= most:
            return self._asked
        wish = self.wish
        place = WishPlace(
            "price",
            price_subject(wish.per),
            Side.MOST,
            float(wish.most),
            Unit.PRICE,
            field=f.PRICE_ASKED,
        )
        return replace(
            self._asked,
            wish=replace(
                self._asked.wish, cost_per_gal=CostPerGal(most, float(wish.most), wish.per)
            ),
            places={**self._asked.places, CEILING_PATH: place},
            fields={**self._asked.fields, "cost_per_gal": f.PRICE_ASKED},
        )

    def cheapest(self) -> PageWish:
        """The wish without a price, to be as cheap by the gallon as it can."""
        wish = replace(
            self._asked.wish, cost_per_gal=None, objective=Objective(cheapest_per=Per.GAL)
        )
        return replace(self._asked, wish=wish)


def _fields(instead: AlternativeAnswer) -> set[str | None]:
    return {relaxed.field for relaxed in instead.relaxed}


def _steps(per_gal: Decimal) -> Decimal:
    """As costs per gallon are printed; what is a step too high is found out by its price."""
    return unit_price(per_gal)
