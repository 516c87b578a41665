"""Random but sensible questions for the property tests."""

from hypothesis import strategies as st

from formulas.engine import (
    BlendProblem,
    CompatibilityRule,
    Effect,
    NutrientWish,
    SlowReleaseWish,
    Stock,
)
from formulas.engine.composition import content_pct, slow_n_pct

KEYS = ("N.urea", "N.nitrate", "N.slow", "P2O5", "K2O", "S", "Fe")
TRAITS = ("alpha", "beta", "gamma")
WATER = Stock("W", "Water", 8.34, 0.0, {}, traits=frozenset({"water"}))


def rounded(low, high, places=2):
    scale = 10**places
    return st.integers(round(low * scale), round(high * scale)).map(lambda n: n / scale)


@st.composite
def stocks(draw, code):
    keys = draw(st.lists(st.sampled_from(KEYS), min_size=1, max_size=3, unique=True))
    return Stock(
        code,
        f"Stock {code}",
        draw(rounded(8.4, 13.0)),
        draw(rounded(0.05, 1.5)),
        {key: draw(rounded(0.5, 30.0)) for key in keys},
        traits=frozenset(draw(st.sets(st.sampled_from(TRAITS), max_size=2))),
    )


@st.composite
def catalogues(draw, largest=7):
    count = draw(st.integers(1, largest))
    made = [draw(stocks(f"S{number}")) for number in range(count)]
    return (*made, WATER) if draw(st.booleans()) else tuple(made)


@st.composite
def wishes(draw, recipe):
    """Wishes that ``recipe`` (pairs of stock and fraction) meets; any wishes if it is None."""
    keys = draw(st.lists(st.sampled_from(("N", *KEYS[3:])), min_size=1, max_size=3, unique=True))
    found = []
    for key in keys:
        if recipe is None:
            low = draw(rounded(0.0, 14.0, 1))
            width = draw(st.none() | rounded(0.0, 6.0, 1))
            high = None if width is None else low + width
        else:
            content = sum(share * content_pct(made.analysis, key) for made, share in recipe)
            low = content * draw(rounded(0.5, 1.0))
            high = draw(st.none() | st.just(content * 1.1))
        found.append(NutrientWish(key, low, high))
    return tuple(found)


@st.composite
def rules(draw):
    effect = draw(st.sampled_from(list(Effect)))
    limit = {}
    if effect is Effect.LIMIT:
        limit = draw(
            st.sampled_from([{"largest_pct": 10.0}, {"largest_pct": 40.0}, {"largest_ratio": 1.0}])
        )
    a, b = draw(st.sampled_from(TRAITS)), draw(st.sampled_from(TRAITS))
    return CompatibilityRule(a, b, effect, "Because.", "demo", **limit)


@st.composite
def linear_problems(draw, reachable=True):
    """Questions of the plain kind; ``reachable`` ones are built around a recipe."""
    made = draw(catalogues())
    if reachable:
        parts = (1, *(draw(st.integers(0, 5)) for _ in made[1:]))
        recipe = [(each, part / sum(parts)) for each, part in zip(made, parts, strict=True)]
        total = sum(share * content_pct(each.analysis, "N") for each, share in recipe)
        slow_n = sum(share * slow_n_pct(each.analysis) for each, share in recipe)
        slow = 90.0 * slow_n / total if total > 0 and draw(st.booleans()) else None
    else:
        recipe = None
        slow = draw(st.none() | rounded(0.0, 60.0, 0))
    return BlendProblem(
        stocks=made,
        wishes=draw(wishes(recipe)),
        slow_release=None if slow is None else SlowReleaseWish(slow),
    )


@st.composite
def problems(draw, reachable=True):
    """Questions with rules, smallest charges and numbers of stocks as well."""
    linear = draw(linear_problems(reachable))
    return BlendProblem(
        stocks=linear.stocks,
        wishes=linear.wishes,
        slow_release=linear.slow_release,
        rules=tuple(draw(st.lists(rules(), max_size=2))),
        smallest_charge_pct=draw(st.sampled_from([0.0, 0.0, 2.0, 10.0])),
        most_stocks=draw(st.none() | st.integers(2, 4)),
    )
