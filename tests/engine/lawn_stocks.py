"""A small catalogue for the tests: generic stocks, rounded analyses, invented costs.

Analyses follow the trade's usual grades (28-0-0 with 72 % of N slow release, UAN 32,
potassium thiosulfate 0-0-25-17S); costs are demo data.
"""

from formulas.engine import (
    BlendProblem,
    CompatibilityRule,
    Effect,
    Fill,
    NutrientWish,
    SlowReleaseWish,
    Stock,
)


def stock(code, density, cost, analysis, *traits, **limits):
    return Stock(code, code, density, cost, analysis, traits=frozenset(traits), **limits)


UAN32 = stock(
    "UAN32", 11.06, 0.17, {"N.urea": 16.0, "N.nitrate": 8.0, "N.ammoniacal": 8.0}, "nitrate"
)
TRIAZONE = stock("TRIAZONE", 10.7, 0.42, {"N.urea": 7.84, "N.slow": 20.16}, "urea_triazone")
UREA = stock("UREA", 9.49, 0.16, {"N.urea": 23.0})
KACE = stock("KACE", 10.6, 0.55, {"K2O": 24.0})
KTHIO25 = stock("KTHIO25", 12.2, 0.50, {"K2O": 25.0, "S": 17.0}, "thiosulfate")
FES = stock("FES", 10.0, 0.30, {"Fe": 5.0, "S": 3.0}, "unchelated_iron")
FEDTA = stock("FEDTA", 10.8, 1.50, {"Fe": 4.5}, "chelated_micros")
HUM = stock("HUM", 9.2, 0.80, {"humic_acid": 12.0, "K2O": 2.0}, "humic", max_pct=40.0)
WATER = stock("WATER", 8.34, 0.0, {}, "water")
STOCKS = (UAN32, TRIAZONE, UREA, KACE, KTHIO25, FES, FEDTA, HUM, WATER)

IRON_RULE = CompatibilityRule(
    "urea_triazone",
    "unchelated_iron",
    Effect.BLOCKS,
    "Iron drops out.",
    "common practice, no source",
)
HUMIC_RULE = CompatibilityRule(
    "humic",
    "urea_triazone",
    Effect.LIMIT,
    "Both are alkaline; fine up to 1:1.",
    "common practice, no source",
    largest_ratio=1.0,
)
JAR_RULE = CompatibilityRule(
    "thiosulfate", "nitrate", Effect.JAR_TEST, "May salt out when cold.", "demo"
)
FINE_RULE = CompatibilityRule(
    "chelated_micros",
    "urea_triazone",
    Effect.FINE,
    "The chelate holds the metals.",
    "common practice, no source",
)
RULES = (IRON_RULE, HUMIC_RULE, JAR_RULE, FINE_RULE)

#: "24 % nitrogen, half slow release, a little potash"
SUMMER = BlendProblem(
    stocks=STOCKS,
    wishes=(NutrientWish("N", 24.0), NutrientWish("K2O", 3.0, 3.5)),
    slow_release=SlowReleaseWish(50.0),
    rules=RULES,
    fill=Fill(volume_gal=265.0),
)


def shares(blend):
    """{code: percent} of a blend."""
    return {share.code: share.pct for share in blend.shares}
