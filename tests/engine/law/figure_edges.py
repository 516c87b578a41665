"""Applications just at and just over the figures that the pairs of examples leave free.

Each row: rule, an application that keeps it at the limit, one that breaks it just beyond.
The sources are those of ``statute_examples`` and stand in the packs.
"""

from statute_examples import CONSUMER, NO_REASON, PRO, YES_TEST, bare, phosphate, soil_test_of


def year(lb, grass):
    """Half a pound that brings the year's sum to ``lb`` on this grass."""
    return {"n": 0.5, "grass": grass, "n_earlier_this_year_lb": lb - 0.5}


def yearly(code, limits):
    return [
        (code, year(limit, grass), year(limit + 0.02, grass)) for grass, limit in limits.items()
    ]


def away(feet, **answers):
    return {"distance_to_water_ft": feet, **answers}


TARGETED, NOT_TARGETED = {"targeted_spray": True}, {"targeted_spray": False}
NO_P_YET = {"p2o5_earlier_this_year_lb": 0.0}
COOL, WARM = {"grass": "tall_fescue"}, {"grass": "bermudagrass"}
SPRING = {"on": "2027-04-01"}

EDGES = [
    # Md. Agriculture 6-224(a)(1), 8-803.5; extension's yearly table of March 1, 2023.
    ("US-MD.rate", {"n": 0.9, "s": 40.0, "win": 40.0}, {"n": 0.91, "s": 40.0, "win": 40.0}),
    ("US-MD.slow", {"n": 0.9, "s": 20.0, "win": 20.0}, {"n": 0.71, "s": 19.5, "win": 19.5}),
    *yearly(
        "US-MD.year",
        {
            "tall_fescue": 2.7,
            "kentucky_bluegrass": 2.7,
            "fine_fescue": 1.4,
            "zoysiagrass": 1.8,
            "bermudagrass": 2.7,
        },
    ),
    ("US-MD.setback", away(15.0, **NOT_TARGETED), away(14.5, **NOT_TARGETED)),
    # 3 Pa.C.S. 6804, 6813.
    ("US-PA.rate", {"n": 0.9, "s": 40.0}, {"n": 0.91, "s": 40.0}),
    ("US-PA.slow", {"n": 1.0, "s": 20.0}, {"n": 1.0, "s": 19.5}),
    ("US-PA.slow", {"n": 0.875, "s": 19.99999999}, {"n": 0.91, "s": 19.5}),
    ("US-PA.slow", {"n": 0.7, "s": 0.0}, {"n": 0.71, "s": 0.0}),
    (
        "US-PA.winter-rate",
        {"n": 0.5, "on": "2027-01-15"},
        {"n": 0.51, "on": "2027-01-15"},
    ),
    ("US-PA.setback", away(0.0, **TARGETED), away(14.9, **NOT_TARGETED)),
    # New Jersey, as quoted and from memory.
    (
        "US-NJ.rate-consumer",
        {"n": 0.9, "s": 40.0, "win": 40.0, **CONSUMER},
        {"n": 0.91, "s": 40.0, "win": 40.0, **CONSUMER},
    ),
    (
        "US-NJ.rate-professional",
        {"n": 1.0, "s": 40.0, "win": 40.0, **PRO},
        {"n": 0.71, **PRO},
    ),
    ("US-NJ.setback", away(10.0, **TARGETED), away(9.5, **TARGETED)),
    ("US-NJ.setback", away(25.0, **NOT_TARGETED), away(24.5, **NOT_TARGETED)),
    # D.C. Code 8-104.03.
    ("US-DC.p", soil_test_of(36.0), soil_test_of(36.5)),
    ("US-DC.setback", away(10.0, **TARGETED), away(9.5, **TARGETED)),
    ("US-DC.setback", away(15.0, **NOT_TARGETED), away(14.5, **NOT_TARGETED)),
    # Virginia, extension notes as quoted.
    ("US-VA.rate-cool", {"n": 0.7, **COOL}, {"n": 0.71, **COOL}),
    ("US-VA.rate-cool", {"n": 0.9, "s": 15.0, **COOL}, {"n": 0.91, "s": 60.0, **COOL}),
    ("US-VA.rate-warm", {"n": 0.9, **WARM}, {"n": 0.91, **WARM}),
    ("US-VA.rate-warm", {"n": 1.0, "s": 15.0, **WARM}, {"n": 1.01, "s": 60.0, **WARM}),
    # ECL 17-2101 and 17-2103; 10 V.S.A. 1266b; summary of P.A. 12-155.
    ("US-NY.p", {"p2o5": 0.67}, {**NO_REASON, "p2o5": 0.68}),
    ("US-NY.setback", away(20.0), away(19.5)),
    ("US-VT.p", {"p2o5": 0.67}, {**NO_REASON, "p2o5": 0.68}),
    ("US-VT.p-test-age", {"p2o5": 0.67}, {**NO_REASON, "p2o5": 0.68}),
    ("US-CT.p", {"p2o5": 0.67}, {**NO_REASON, "p2o5": 0.68}),
    # 415 ILCS 65/5a; RCW 15.54.500; Michigan extension.
    ("US-IL.setback", away(3.0, **TARGETED, **PRO), away(2.9, **TARGETED, **PRO)),
    ("US-IL.setback", away(15.0, **NOT_TARGETED, **PRO), away(14.5, **NOT_TARGETED, **PRO)),
    ("US-WA.p", soil_test_of(36.0), soil_test_of(36.5)),
    (
        "US-MI.setback",
        away(1.0, natural_buffer_ft=10.0),
        away(1.0, natural_buffer_ft=9.5),
    ),
    # Florida 5E-1.003(2) per UF/IFAS.
    ("US-FL.rate", {"n": 1.0, "s": 40.0}, {"n": 1.01, "s": 40.0}),
    ("US-FL.rate", {"n": 0.7}, {"n": 0.71}),
    ("US-FL.rate", {"n": 1.5, "s": 65.0, **SPRING}, {"n": 1.5, "s": 64.5, **SPRING}),
    ("US-FL.rate", {"n": 2.0, "s": 70.0, **SPRING}, {"n": 2.01, "s": 70.0, **SPRING}),
    (
        "US-FL.p",
        {**phosphate(0.2), "p2o5_earlier_this_year_lb": 0.3},
        {**phosphate(0.2), "p2o5_earlier_this_year_lb": 0.31},
    ),
    # Marion County 19-247; Polk County 12-236.
    (
        "US-FL-MARION.rate",
        {"n": 1.0, "s": 40.0, "win": 40.0},
        {"n": 1.01, "s": 40.0, "win": 40.0},
    ),
    *yearly(
        "US-FL-MARION.year",
        {
            "bahiagrass": 3.0,
            "bermudagrass": 4.0,
            "centipedegrass": 2.0,
            "st_augustinegrass": 3.0,
            "zoysiagrass": 4.0,
        },
    ),
    (
        "US-FL-MARION.p",
        {**phosphate(0.25), "p2o5_earlier_this_year_lb": 0.25},
        {**phosphate(0.25), "p2o5_earlier_this_year_lb": 0.26},
    ),
    ("US-FL-MARION.p", {**phosphate(0.25), **NO_P_YET}, {**phosphate(0.26), **NO_P_YET}),
    (
        "US-FL-MARION.p",
        {**phosphate(1.0), "new_lawn": True},
        {**phosphate(1.01), "new_lawn": True},
    ),
    *yearly(
        "US-FL-POLK.year",
        {
            "bahiagrass": 4.0,
            "bermudagrass": 6.0,
            "centipedegrass": 3.0,
            "st_augustinegrass": 5.0,
            "zoysiagrass": 5.0,
        },
    ),
    # Orange County 15-804.
    ("US-FL-ORANGE.slow", {"n": 0.5, **PRO}, {"n": 0.5, "s": 49.0, **CONSUMER}),
    ("US-FL-ORANGE.slow", {"n": 0.9, "s": 50.0}, {"n": 0.52, **PRO}),
    ("US-FL-ORANGE.slow-65", {"n": 0.5, **PRO}, {"n": 0.52, **PRO}),
    (
        "US-FL-ORANGE.p",
        {**phosphate(0.25), **YES_TEST, **NO_P_YET},
        {**phosphate(0.26), **YES_TEST, **NO_P_YET},
    ),
    # Thirty days: Palm Shores 94.06(D), Neptune Beach 24-33, Pinellas County's page.
    (
        "US-FL-PALM-SHORES.establishment",
        {"days_since_seeding": 30.0},
        {"days_since_seeding": 29.0},
    ),
    (
        "US-FL-NEPTUNE-BEACH.establishment",
        {"days_since_seeding": 30.0},
        {"days_since_seeding": 29.0},
    ),
    ("US-FL-PINELLAS.establishment", {"days_since_seeding": 30.0}, {"days_since_seeding": 29.0}),
    (
        "US-FL-SARASOTA.p",
        {**phosphate(0.2), "p2o5_earlier_this_year_lb": 0.3},
        {**phosphate(0.2), "p2o5_earlier_this_year_lb": 0.31},
    ),
    # A reason other than a soil test: establishment and repair.
    ("US-MD.p", bare(repair=True), bare()),
    ("US-MN.p", bare(trained_golf=True), bare()),
    ("US-WI.p", bare(new_lawn=True), bare()),
]
