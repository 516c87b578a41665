"""Tanks to correct, and what is asked of the answer, worked out without the engine."""

import itertools
from dataclasses import replace

from hypothesis import assume
from hypothesis import strategies as st

from formulas.engine import (
    Effect,
    NutrientWish,
    SlowReleaseWish,
)
from formulas.engine.composition import content_pct, slow_n_pct
from formulas.engine.plant.correction import InTank, OnHand, Promise
from tests.engine.blend.strategies import catalogues, rules, wishes
from tests.engine.lawn_stocks import (
    KTHIO25,
    RULES,
    STOCKS,
    TRIAZONE,
    UAN32,
    WATER,
)

SUMMER = Promise(
    (NutrientWish("N", 24.0), NutrientWish("K2O", 3.0, 3.5)),
    SlowReleaseWish(50.0),
    RULES,
    most_gal=265.0,
)


#: A batch of 2,400 lb that keeps the summer promise.
WEIGHED = ((UAN32, 550.0), (TRIAZONE, 1429.0), (KTHIO25, 288.0), (WATER, 133.0))


SHELF = tuple(OnHand(stock, 500.0) for stock in STOCKS)


def tank(**changed):
    """The weighed batch with some weights changed by code."""
    return [InTank(stock, changed.get(stock.code, lb)) for stock, lb in WEIGHED]


def totals(charges, corrected, shelf=SHELF):
    """(stock, lb) of everything in the corrected tank."""
    stock_of = {offer.stock.code: offer.stock for offer in shelf}
    return [
        *((charge.stock, charge.weight_lb) for charge in charges),
        *((stock_of[each.code], each.weight_lb) for each in corrected.additions),
    ]


def pct_of(mixture, content):
    mass = sum(lb for _, lb in mixture)
    return sum(lb * content(stock.analysis) for stock, lb in mixture) / mass


def keeps(mixture, promise, slack=1e-7):
    """Whether a mixture keeps wishes and slow share, worked out without the engine's rows."""
    for wish in promise.wishes:
        pct = pct_of(mixture, lambda analysis, key=wish.nutrient: content_pct(analysis, key))
        if wish.min_pct is not None and pct < wish.min_pct - slack:
            return False
        if wish.max_pct is not None and pct > wish.max_pct + slack:
            return False
    if promise.slow_release is not None:
        slow, total = pct_of(mixture, slow_n_pct), pct_of(mixture, lambda a: content_pct(a, "N"))
        least, most = promise.slow_release.min_pct, promise.slow_release.max_pct
        if least is not None and slow < least / 100 * total - slack:
            return False
        if most is not None and slow > most / 100 * total + slack:
            return False
    gal = sum(lb / stock.density_lb_per_gal for stock, lb in mixture)
    lb = sum(lb for _, lb in mixture)
    return (promise.most_gal is None or gal <= promise.most_gal * (1 + 1e-9)) and (
        promise.most_lb is None or lb <= promise.most_lb * (1 + 1e-9)
    )


def small_tanks():
    """Two charges, two stocks on hand of at most twelve steps each, and wishes near the mix."""

    @st.composite
    def draw_one(draw):
        made = draw(catalogues(largest=3))
        assume(len(made) >= 2)
        first, second = made[0], made[-1]
        charges = [InTank(first, draw(st.integers(20, 60))), InTank(second, 20)]
        mixture = [(c.stock, c.weight_lb / sum(x.weight_lb for x in charges)) for c in charges]
        asked = tuple(
            replace(
                wish,
                min_pct=min(100.0, wish.min_pct * draw(st.sampled_from([1.0, 1.02, 1.2]))),
                max_pct=None if wish.max_pct is None else min(100.0, 1.3 * wish.max_pct),
            )
            for wish in draw(wishes(mixture))
        )
        shelf = [
            OnHand(replace(stock, scale_step_lb=draw(st.sampled_from([2.0, 2.5]))), 12.0)
            for stock in made[:2]
        ]
        promise = Promise(
            asked,
            draw(st.none() | st.just(SlowReleaseWish(10.0))),
            tuple(draw(st.lists(rules(), max_size=1))),
            most_gal=draw(st.none() | st.just(9.0)),
        )
        return charges, shelf, promise

    return draw_one()


def every_addition(shelf):
    """Each combination of whole steps as {code: lb}."""
    counts = [range(int(offer.weight_lb / offer.stock.scale_step_lb) + 1) for offer in shelf]
    for steps in itertools.product(*counts):
        yield {
            offer.stock.code: n * offer.stock.scale_step_lb
            for offer, n in zip(shelf, steps, strict=True)
        }


def obeys(mixture, promise):
    """Rules by their meaning, for the traits of the strategies."""
    lb = {}
    for stock, pounds in mixture:
        lb.setdefault(stock.code, [stock, 0.0])[1] += pounds
    there = [(stock, pounds) for stock, pounds in lb.values() if pounds > 0]
    total = sum(pounds for _, pounds in there)
    for rule in promise.rules:
        for b, _ in there:
            if rule.trait_b not in b.traits:
                continue
            of_a = sum(p for s, p in there if rule.trait_a in s.traits and s.code != b.code)
            of_b = sum(p for s, p in there if rule.trait_b in s.traits)
            if rule.effect is Effect.BLOCKS and of_a > 0:
                return False
            if rule.largest_pct is not None and of_a > rule.largest_pct / 100 * total + 1e-7:
                return False
            if rule.largest_ratio is not None and of_a > rule.largest_ratio * of_b + 1e-7:
                return False
    return True
