"""Questions with answers worked by hand: {name: (problem, {code: percent}, cost per lb)}.

``None`` for the shares means out of reach.
"""

from dataclasses import replace

from formulas.engine import BlendProblem, NutrientWish, SlowReleaseWish, StockLimit
from tests.engine.lawn_stocks import FES, HUM, KTHIO25, TRIAZONE, UAN32, UREA, WATER, stock

TWIN = replace(UREA, code="AREA")
FIXED_WATER = replace(WATER, min_pct=40.0)

CATALOGUE = {
    # Pearson square (Virginia-type blending text, softdatapublisher.com p. 112): parts of the
    # strong one = 28 - 0, parts of water = 32 - 28.
    "binding minimum": (
        BlendProblem((UAN32, WATER), (NutrientWish("N", 28.0),)),
        {"UAN32": 87.5, "WATER": 12.5},
        0.875 * 0.17,
    ),
    "nothing asked but the cheapest": (
        BlendProblem((UAN32, WATER)),
        {"WATER": 100.0},
        0.0,
    ),
    "redundant wishes": (
        BlendProblem(
            (UAN32, WATER),
            (NutrientWish("N", 28.0), NutrientWish("N", 20.0), NutrientWish("N.urea", 1.0)),
        ),
        {"UAN32": 87.5, "WATER": 12.5},
        0.875 * 0.17,
    ),
    # 12 % N of 24 % from the slow form: 12 / 20.16 of triazone holds 28 x 12 / 20.16 = 16.667 % N;
    # the other 7.333 % from UAN 32.
    "slow release and nitrogen": (
        BlendProblem((UAN32, TRIAZONE, WATER), (NutrientWish("N", 24.0),), SlowReleaseWish(50.0)),
        {
            "UAN32": 100 * (24 - 28 * 12 / 20.16) / 32,
            "TRIAZONE": 100 * 12 / 20.16,
            "WATER": 100 - 100 * (24 - 28 * 12 / 20.16) / 32 - 100 * 12 / 20.16,
        },
        0.17 * (24 - 28 * 12 / 20.16) / 32 + 0.42 * 12 / 20.16,
    ),
    "degenerate: several wishes meet in one corner": (
        BlendProblem(
            (KTHIO25, WATER),
            (NutrientWish("K2O", 12.5), NutrientWish("S", 8.5), NutrientWish("S", 0, 8.5)),
        ),
        {"KTHIO25": 50.0, "WATER": 50.0},
        0.25,
    ),
    "a stock's own minimum binds": (
        BlendProblem((UREA, FIXED_WATER), (NutrientWish("N", 10.0),)),
        {"UREA": 1000 / 23, "WATER": 100 - 1000 / 23},
        0.16 * 10 / 23,
    ),
    "a user's limit binds": (
        BlendProblem((UREA, WATER), stock_limits=(StockLimit("UREA", 30.0),)),
        {"UREA": 30.0, "WATER": 70.0},
        0.048,
    ),
    "twins at one price: the earlier code": (
        BlendProblem((UREA, TWIN, WATER), (NutrientWish("N", 11.5),)),
        {"AREA": 50.0, "WATER": 50.0},
        0.08,
    ),
    # One stock of 20 % N and 5 % K2O at $0.40 does what 20/23 urea and 5/25 potassium
    # thiosulfate cannot (they add up to 107 %): the only recipe.
    "the only feasible recipe": (
        BlendProblem(
            (UREA, KTHIO25, stock("BOTH", 10.0, 0.40, {"N.urea": 20.0, "K2O": 5.0})),
            (NutrientWish("N", 20.0), NutrientWish("K2O", 5.0)),
        ),
        {"BOTH": 100.0},
        0.40,
    ),
    "out of reach: more than any stock holds": (
        BlendProblem((UREA, WATER), (NutrientWish("N", 24.0),)),
        None,
        None,
    ),
    "out of reach: two wishes compete for room": (
        BlendProblem((UREA, KTHIO25), (NutrientWish("N", 20.0), NutrientWish("K2O", 5.0))),
        None,
        None,
    ),
    "out of reach: minimum and maximum of two wishes": (
        BlendProblem((UREA, WATER), (NutrientWish("N", 10.0), NutrientWish("N.urea", None, 9.0))),
        None,
        None,
    ),
    "out of reach: maximum shares below 100": (
        BlendProblem((replace(UREA, max_pct=40.0), replace(WATER, max_pct=50.0))),
        None,
        None,
    ),
    "out of reach: all sources left out": (
        BlendProblem((FES, WATER), (NutrientWish("Fe", 1.0),), exclude=frozenset({"FES"})),
        None,
        None,
    ),
    "out of reach: limited by a stock's own maximum": (
        BlendProblem((HUM, WATER), (NutrientWish("humic_acid", 6.0),)),
        None,
        None,
    ),
}
SOLVABLE = {name: case for name, case in CATALOGUE.items() if case[1] is not None}
IMPOSSIBLE = {name: case[0] for name, case in CATALOGUE.items() if case[1] is None}
