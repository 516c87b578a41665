"""The words a line is made of: nutrients as people call them, sides, units, and small talk."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from formulas.engine.composition import NUTRIENTS, SLOW_RELEASE
from formulas.spoken_wish.meanings import Unit

#: What people call a content, longest first where one begins another; symbols besides.
CONTENTS: Final[Mapping[str, str]] = {
    "total nitrogen": "N", "total n": "N", "nitrogen": "N",
    "urea nitrogen": "N.urea", "urea n": "N.urea",
    "nitrate nitrogen": "N.nitrate", "nitrate n": "N.nitrate",
    "ammoniacal nitrogen": "N.ammoniacal", "ammoniacal n": "N.ammoniacal",
    "ammonium nitrogen": "N.ammoniacal", "ammonium n": "N.ammoniacal",
    "water insoluble nitrogen": "N.insoluble", "insoluble nitrogen": "N.insoluble",
    "insoluble n": "N.insoluble",
    "available phosphate": "P2O5", "phosphoric oxide": "P2O5", "phosphate": "P2O5",
    "phosphorus": "P2O5", "phosphorous": "P2O5", "phos": "P2O5", "p": "P2O5",
    "soluble potash": "K2O", "potash": "K2O", "potassium": "K2O", "k": "K2O",
    "calcium": "Ca", "magnesium": "Mg", "sulfur": "S", "sulphur": "S", "boron": "B",
    "chlorine": "Cl", "chlorides": "Cl", "chloride": "Cl", "cobalt": "Co", "copper": "Cu",
    "iron": "Fe",
    "manganese": "Mn", "molybdenum": "Mo", "moly": "Mo", "nickel": "Ni", "sodium": "Na",
    "zinc": "Zn",
    "humic acid": "humic_acid", "humic": "humic_acid", "humate": "humic_acid",
    "fulvic acid": "fulvic_acid", "fulvic": "fulvic_acid",
    "seaweed extract": "seaweed_extract", "seaweed": "seaweed_extract",
    "kelp": "seaweed_extract", "nbpt": "NBPT", "dcd": "DCD",
    **{key.lower(): key for key in NUTRIENTS},
}  # fmt: skip
SLOW: Final = (
    "slow release", "slowly available", "slow rel", "controlled release", "slow", "srn",
)  # fmt: skip
#: How a content is written where a line is written anew.
NAMES: Final[Mapping[str, str]] = {
    "N": "nitrogen", "P2O5": "phosphate", "K2O": "potash", "Ca": "calcium", "Mg": "magnesium",
    "S": "sulfur", "B": "boron", "Cl": "chloride", "Co": "cobalt", "Cu": "copper", "Fe": "iron",
    "Mn": "manganese", "Mo": "molybdenum", "Ni": "nickel", "Na": "sodium", "Zn": "zinc",
    "humic_acid": "humic acid", "fulvic_acid": "fulvic acid",
    "seaweed_extract": "seaweed extract", "NBPT": "NBPT", "DCD": "DCD",
    "N.urea": "urea nitrogen", "N.nitrate": "nitrate nitrogen",
    "N.ammoniacal": "ammoniacal nitrogen", "N.insoluble": "insoluble nitrogen",
    SLOW_RELEASE: "slow release",
}  # fmt: skip
MICROS: Final = (
    "micro nutrients", "micronutrients", "micronutrient", "micro package", "micro pack", "micros",
    "minor elements", "minors", "trace elements", "traces",
)  # fmt: skip
#: What "no micros" is free of.
MICRO_KEYS: Final = ("B", "Cu", "Fe", "Mn", "Mo", "Zn")

AT_MOST: Final = (
    "no more than", "not more than", "not over", "at most", "at the most", "up to", "less than",
    "below", "under", "max of", "maximum of", "max", "maximum", "<=", "<", "≤",
)  # fmt: skip
AT_LEAST: Final = (
    "no less than", "not less than", "at least", "at the least", "more than", "above", "over",
    "min of", "minimum of", "min", "minimum", ">=", ">", "≥",
)  # fmt: skip
MOST_AFTER: Final = ("or less", "or under", "or below", "at most", "maximum", "max", "tops")
LEAST_AFTER: Final = ("or more", "or better", "or above", "at least", "minimum", "min")
ABOUT: Final = ("about", "around", "roughly", "approximately", "approx", "~", "some like")
SOME: Final = (
    "a little bit of", "a little", "little bit of", "a bit of", "bit of", "a touch of",
    "touch of", "a lot of", "lots of", "plenty of", "a dash of", "mostly", "some", "extra", "few",
    "a few", "several", "with", "add", "plus",
)  # fmt: skip
NONE_OF: Final = ("without any", "without", "w/o", "not any", "free of", "no", "zero")

PACKAGES: Final[Mapping[str, Unit]] = {
    "totes": Unit.TOTE, "tote": Unit.TOTE, "ibcs": Unit.TOTE, "ibc": Unit.TOTE,
    "drums": Unit.DRUM, "drum": Unit.DRUM, "barrels": Unit.DRUM, "barrel": Unit.DRUM,
    "pails": Unit.PAIL, "pail": Unit.PAIL,
}  # fmt: skip
SINGULAR: Final = frozenset({"tote", "ibc", "drum", "barrel", "pail"})
GALLONS: Final = ("gallons", "gallon", "gals", "gal")
POUNDS: Final = ("pounds", "pound", "lbs", "lb", "#")
TONS: Final = ("tons", "ton")
TRUCKLOAD: Final = (
    "truck loads", "truck load", "truckloads", "truckload", "tanker load", "tanker", "load",
)  # fmt: skip
PERCENT: Final = ("percent", "per cent", "pct", "%")

#: Words between wishes that say nothing of the blend.
SMALL_TALK: Final = frozenset(
    """
    & ' + a all an analysis and and, any as ask asking at be blend blended build but by call
    caller calling can cost could customer customers deal did do does each fert fertiliser
    fertilizer for from get gets getting give go going good got grade grass guaranteed guy had
    has have having he he's hello her here hey hi his how i i'd i'll i'm in is it it's its just
    know lady lawn lawns let like liquid look looking made make making many may me mix mixed
    mixture morning much my need needed needs of ok okay on order our out per percent please
    plus price priced product put quote quoted really release right safe said say says she she's
    ship shipped shipping so solution some something spray sprayed spraying sure take tell thank
    thanks that that's the their them then there they they're this through to today too total
    turf up us use using w/ want wanted wants was we we'd we're what what's when where will with
    would yes you your
    """.split()  # noqa: SIM905 - a list of words reads as words
)
#: Words that change the number beside them when nobody knows how; so does any "…n't".
QUALIFIERS: Final = frozenset(
    """
    about again another around below between cannot double either else except half hundred
    ideally if instead least less max maximum maybe million min minimum minus more most neither
    never no none nor not nothing only or other over perhaps point possibly rather same
    than thousand times triple twice under unless within without x zero
    """.split()  # noqa: SIM905 - a list of words reads as words
)
#: Measures that are none here: a number beside one is not what it seems (iron 2 oz).
MEASURES: Final = frozenset(
    """
    ac acre acres bag bags bucket buckets case cases cent cents cup cups g gal gallon gallons gals
    gpa gram grams jug jugs kg kilo kilos l lb lbs liter liters litre litres load loads mg ml ounce
    ounces oz pallet pallets pint pints pound pounds ppm pt pts qt qts quart quarts ton tonne
    tonnes tons
    """.split()  # noqa: SIM905 - a list of words reads as words
)
#: Words that leave open what a price is for.
OF_PRICES: Final = frozenset({"before", "excluding", "fob", "freight", "tax"})
#: Words that make a figure one of many: 4 lb N a season, 5 totes a month.
PER: Final = frozenset({"/", "per", "a", "an", "each", "every"})
TIMES: Final = frozenset(
    """
    day days fortnight month months quarter season seasons spring summer fall week weeks year
    years yr
    """.split()  # noqa: SIM905 - a list of words reads as words
)
#: What a grade is called, letter by letter.
GRADE_NAMES: Final = ("n p k", "npk")
#: Several words that say nothing together, though one alone might.
SMALL_PHRASES: Final = (
    "per gallon", "per gal", "per tote", "per drum", "all in", "go ahead",
)  # fmt: skip
SEPARATORS: Final = frozenset({",", ";", ":", ".", "?", "!", "(", ")", "/", '"', "'"})
