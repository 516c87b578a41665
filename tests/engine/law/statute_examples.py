"""For every rule of every pack one application that keeps it and one that breaks it.

The figures are those of the texts named above each group, so that a slip in a pack shows.
"""

from law_cases import N_PCT

YES_TEST = {"soil_test_shows_p_need": True, "soil_test_age_months": 12.0}
NO_REASON = {
    "soil_test_shows_p_need": False,
    "new_lawn": False,
    "repair": False,
    "trained_golf": False,
}
PRO, CONSUMER = {"professional": True}, {"professional": False}
GOOD_GROUND = {
    "frozen_or_snow": False,
    "saturated": False,
    "heavy_rain_expected": False,
    "storm_warning": False,
}
DC_SENTENCE = (
    "Do not apply near water, storm drains or drainage ditches. Do not apply if heavy rain is"
    " expected. Apply this product only to your lawn, and sweep any product that lands on the"
    " driveway, sidewalk, or street back onto your lawn."
)


def phosphate(lb, n=0.5):
    return {"n": n, "p2o5": N_PCT * lb / n}


def soil_test_of(months):
    return {
        "p2o5": 2.0,
        **NO_REASON,
        "soil_test_shows_p_need": True,
        "soil_test_age_months": months,
    }


def bare(**answers):
    return {"p2o5": 2.0, **NO_REASON, **answers}


#: rule: (keeps it, breaks it)
EXAMPLES = {
    # Maryland, Agriculture 6-224(a): 0.7 lb water-soluble, 0.9 lb total with 20 % slow; soil
    # test of at most 3 years. 8-803.5: March 1 to November 15, frozen ground, 15 ft or 10 ft.
    "US-MD.rate": ({"n": 0.7}, {"n": 0.71}),
    "US-MD.slow": ({"n": 0.9, "s": 25.0, "win": 25.0}, {"n": 0.9, "s": 19.0}),
    "US-MD.p": (soil_test_of(36.0), soil_test_of(37.0)),
    "US-MD.winter": ({"on": "2027-03-01"}, {"on": "2027-02-28"}),
    "US-MD.autumn-others": ({"on": "2026-11-15", **CONSUMER}, {"on": "2026-11-16", **CONSUMER}),
    "US-MD.ground": (GOOD_GROUND, {"frozen_or_snow": True}),
    "US-MD.setback": (
        {"distance_to_water_ft": 10.0, "targeted_spray": True},
        {"distance_to_water_ft": 9.0, "targeted_spray": True},
    ),
    # Maryland, secondary: extension's yearly 2.7 lb for tall fescue; MDA's 0.5 lb to December 1.
    "US-MD.year": (
        {"n": 0.9, "grass": "tall_fescue", "n_earlier_this_year_lb": 1.8},
        {"n": 0.91, "grass": "tall_fescue", "n_earlier_this_year_lb": 1.8},
    ),
    "US-MD.autumn-professional": (
        {"n": 0.5, "on": "2026-11-20", **PRO},
        {"n": 0.51, "on": "2026-11-20", **PRO},
    ),
    # Pennsylvania, 3 Pa.C.S. 6813: 0.7 readily available, 0.9 total; zero P but for
    # establishment and repair; after December 15 to March 1 at most 0.5 lb. 6804: liquids exempt.
    "US-PA.rate": ({"n": 0.875, "s": 20.0}, {"n": 0.876, "s": 20.0}),
    "US-PA.slow": ({"n": 0.7}, {"n": 0.8}),
    "US-PA.p": (bare(repair=True), bare()),
    "US-PA.winter-rate": ({"n": 0.5, "on": "2027-03-01"}, {"n": 0.6, "on": "2027-03-01"}),
    "US-PA.winter-none": ({"on": "2026-12-15"}, {"n": 0.5, "on": "2026-12-16"}),
    "US-PA.ground": (GOOD_GROUND, {"frozen_or_snow": True}),
    "US-PA.setback": (
        {"distance_to_water_ft": 15.0},
        {"distance_to_water_ft": 14.0, "targeted_spray": False},
    ),
    # New Jersey, 58:10A-62: not before March 1 or after November 15, professionals December 1.
    "US-NJ.dates-others": ({"on": "2026-11-15", **CONSUMER}, {"on": "2026-11-16", **CONSUMER}),
    "US-NJ.dates-professional": ({"on": "2026-12-01", **PRO}, {"on": "2026-12-02", **PRO}),
    "US-NJ.ground": (GOOD_GROUND, {"saturated": True}),
    # New Jersey, unverified: P.L.2010 c.112 s.11 as quoted; figures from memory.
    "US-NJ.rate-consumer": ({"n": 0.7, **CONSUMER}, {"n": 0.71, **CONSUMER}),
    "US-NJ.rate-professional": ({"n": 0.7, **PRO}, {"n": 1.01, "s": 50.0, **PRO}),
    "US-NJ.year-consumer": (
        {"n": 0.7, "n_earlier_this_year_lb": 2.5, **CONSUMER},
        {"n": 0.7, "n_earlier_this_year_lb": 2.6, **CONSUMER},
    ),
    "US-NJ.year-professional": (
        {"n": 1.0, "n_earlier_this_year_lb": 3.25, **PRO},
        {"n": 1.0, "n_earlier_this_year_lb": 3.26, **PRO},
    ),
    "US-NJ.slow": ({"s": 20.0, "win": 20.0, **CONSUMER}, {"s": 19.0, **CONSUMER}),
    "US-NJ.p": (soil_test_of(36.0), soil_test_of(37.0)),
    "US-NJ.setback": (
        {"distance_to_water_ft": 10.0, "targeted_spray": True},
        {"distance_to_water_ft": 24.0, "targeted_spray": False},
    ),
    # Delaware, 3 Del. Admin. Code 1201-6.2: between December 7 and February 15; frozen, snow.
    "US-DE.winter": ({"on": "2027-02-16", **PRO}, {"on": "2027-02-15", **PRO}),
    "US-DE.ground": ({**GOOD_GROUND, **PRO}, {"frozen_or_snow": True, **PRO}),
    # D.C. Code 8-104.02, .03, .05.
    "US-DC.p": ({"p2o5": 0.67}, {**bare(), "p2o5": 0.68}),
    "US-DC.winter": ({"on": "2026-11-15"}, {"on": "2026-11-16"}),
    "US-DC.ground": (GOOD_GROUND, {"frozen_or_snow": True}),
    "US-DC.setback": ({"distance_to_water_ft": 15.0}, {"distance_to_water_ft": 9.0}),
    "US-DC.sentence": (
        {"label": DC_SENTENCE.replace("expected. Apply", "expected.\nApply")},
        {"label": DC_SENTENCE.replace("storm drains", "drains")},
    ),
    # Virginia, unverified: extension notes as quoted, 15 % as the switch.
    "US-VA.rate-cool": (
        {"n": 0.9, "s": 15.0, "grass": "tall_fescue"},
        {"n": 0.9, "s": 14.0, "grass": "tall_fescue"},
    ),
    "US-VA.rate-warm": (
        {"n": 0.9, "grass": "bermudagrass"},
        {"n": 1.0, "s": 14.0, "grass": "bermudagrass"},
    ),
    "US-VA.year": (
        {"n": 0.5, "n_earlier_this_year_lb": 3.0},
        {"n": 0.6, "n_earlier_this_year_lb": 3.0},
    ),
    "US-VA.p": (bare(repair=True), bare()),
    # New York, ECL 17-2103: above 0.67 %; December first to April first; 20 ft, 10-ft buffer.
    "US-NY.p": ({"p2o5": 0.67}, bare()),
    "US-NY.winter": ({"on": "2027-04-02"}, {"on": "2027-04-01"}),
    "US-NY.setback": (
        {"distance_to_water_ft": 5.0, "natural_buffer_ft": 10.0},
        {"distance_to_water_ft": 19.0, "natural_buffer_ft": 9.0},
    ),
    # Vermont, 10 V.S.A. 1266b: 15 % slow that is not water-soluble; before April 1, after
    # October 15; 25 ft.
    "US-VT.slow": ({"s": 15.0, "win": 15.0}, {"s": 60.0, "win": 14.0}),
    "US-VT.p": (bare(new_lawn=True), bare()),
    "US-VT.p-test-age": (soil_test_of(18.0), soil_test_of(19.0)),
    "US-VT.winter": ({"on": "2026-10-15"}, {"on": "2026-10-16"}),
    "US-VT.setback": ({"distance_to_water_ft": 25.0}, {"distance_to_water_ft": 24.0}),
    # Connecticut, unverified: summary of P.A. 12-155.
    "US-CT.p": ({"p2o5": 0.67}, bare()),
    "US-CT.winter": (
        {"p2o5": 2.0, "on": "2027-03-16"},
        {"p2o5": 2.0, "on": "2027-03-15"},
    ),
    "US-CT.setback": (
        {"p2o5": 2.0, "distance_to_water_ft": 20.0},
        {"p2o5": 2.0, "distance_to_water_ft": 19.0},
    ),
    # Minnesota 18C.60; Wisconsin 94.643; Illinois 415 ILCS 65/5a; Washington RCW 15.54.500.
    "US-MN.p": (soil_test_of(36.0), soil_test_of(36.5)),
    "US-WI.p": (soil_test_of(36.0), soil_test_of(36.5)),
    "US-WI.ground": (GOOD_GROUND, {"frozen_or_snow": True}),
    "US-IL.p": ({**soil_test_of(36.0), **PRO}, {**soil_test_of(36.5), **PRO}),
    "US-IL.ground": ({**GOOD_GROUND, **PRO}, {"saturated": True, **PRO}),
    "US-IL.setback": (
        {"distance_to_water_ft": 3.0, "targeted_spray": True, **PRO},
        {"distance_to_water_ft": 2.0, "targeted_spray": True, **PRO},
    ),
    "US-WA.p": (bare(repair=True), bare()),
    "US-WA.ground": (
        {"p2o5": 2.0, **GOOD_GROUND},
        {"p2o5": 2.0, "frozen_or_snow": True},
    ),
    # Michigan, unverified: extension pages and bill analysis.
    "US-MI.p": (soil_test_of(36.0), soil_test_of(36.5)),
    "US-MI.ground": (GOOD_GROUND, {"saturated": True}),
    "US-MI.setback": ({"distance_to_water_ft": 15.0}, {"distance_to_water_ft": 14.0}),
    # Florida 5E-1.003(2) per UF/IFAS: 1 lb, 0.7 lb soluble, 2 lb from 65 % in spring and summer.
    "US-FL.rate": (
        {"n": 2.0, "s": 65.0, "on": "2027-05-01"},
        {"n": 2.0, "s": 65.0, "on": "2027-10-01"},
    ),
    "US-FL.p": (
        {**phosphate(0.25), "p2o5_earlier_this_year_lb": 0.25},
        {**phosphate(0.26), "p2o5_earlier_this_year_lb": 0.0},
    ),
    # Orange County 15-804: 50 %, 1 lb; commercial 0.5 lb without the share; 0.25 and 0.50 lb P.
    "US-FL-ORANGE.rate": ({"n": 1.0}, {"n": 1.01}),
    "US-FL-ORANGE.slow": ({"n": 0.5, **PRO}, {"n": 0.51, "s": 49.0, **PRO}),
    "US-FL-ORANGE.slow-65": ({"n": 1.0, "s": 65.0}, {"n": 1.0, "s": 64.0}),
    "US-FL-ORANGE.p": (
        {**phosphate(0.25), **YES_TEST, "p2o5_earlier_this_year_lb": 0.25},
        {**phosphate(0.25), **YES_TEST, "p2o5_earlier_this_year_lb": 0.26},
    ),
    "US-FL-ORANGE.summer": ({"on": "2027-05-31"}, {"on": "2027-06-01"}),
    "US-FL-ORANGE.setback": ({"distance_to_water_ft": 15.0}, {"distance_to_water_ft": 14.0}),
    # Marion County 19-247: 0.7 and 1 lb; bahiagrass 3 lb; 0.25 and 0.50 lb P, starter 1.0.
    "US-FL-MARION.rate": ({"n": 1.0, "s": 30.0, "win": 30.0}, {"n": 1.0, "s": 29.0}),
    "US-FL-MARION.year": (
        {"n": 0.7, "grass": "centipedegrass", "n_earlier_this_year_lb": 1.3},
        {"n": 0.7, "grass": "centipedegrass", "n_earlier_this_year_lb": 1.4},
    ),
    "US-FL-MARION.p": (
        {**phosphate(0.25), "p2o5_earlier_this_year_lb": 0.0},
        {**phosphate(0.26), "p2o5_earlier_this_year_lb": 0.0},
    ),
    # Melbourne Beach 27-56; Palm Shores 94.06; Lake Mary; Neptune Beach 24-33.
    "US-FL-MELBOURNE-BEACH.slow": ({"s": 50.0}, {"s": 49.0}),
    "US-FL-MELBOURNE-BEACH.p": ({"p2o5": 2.0, **YES_TEST}, bare()),
    "US-FL-MELBOURNE-BEACH.establishment": (
        {"days_since_seeding": 30.0},
        {"days_since_seeding": 29.0},
    ),
    "US-FL-PALM-SHORES.slow": ({"s": 50.0}, {"s": 49.0}),
    "US-FL-PALM-SHORES.p": (soil_test_of(24.0), soil_test_of(25.0)),
    "US-FL-PALM-SHORES.establishment": ({"days_since_seeding": 31.0}, {"days_since_seeding": 3.0}),
    "US-FL-LAKE-MARY.slow": ({"s": 50.0}, {"s": 49.0}),
    "US-FL-LAKE-MARY.slow-65": ({"s": 65.0}, {"s": 64.0}),
    "US-FL-LAKE-MARY.p": ({"p2o5": 2.0, **YES_TEST}, bare()),
    "US-FL-NEPTUNE-BEACH.establishment": ({"new_lawn": False}, {"days_since_seeding": 29.0}),
    # Polk County 12-236: half a pound of water-soluble; St. Augustine 2 to 5 lb a year.
    "US-FL-POLK.rate": ({"n": 0.5}, {"n": 0.51}),
    "US-FL-POLK.year": (
        {"n": 0.5, "grass": "st_augustinegrass", "n_earlier_this_year_lb": 4.5},
        {"n": 0.5, "grass": "st_augustinegrass", "n_earlier_this_year_lb": 4.6},
    ),
    # Unverified locals: pages of Islamorada, Pinellas and Sarasota; Manatee from memory.
    "US-FL-ISLAMORADA.slow": ({"s": 50.0}, {"s": 49.0}),
    "US-FL-ISLAMORADA.summer": ({"on": "2027-10-01"}, {"on": "2027-09-30"}),
    "US-FL-ISLAMORADA.weather": (GOOD_GROUND, {"storm_warning": True}),
    "US-FL-PINELLAS.rate": ({"n": 0.5}, {"n": 0.51}),
    "US-FL-PINELLAS.year": (
        {"n": 0.5, "n_earlier_this_year_lb": 3.5},
        {"n": 0.5, "n_earlier_this_year_lb": 3.6},
    ),
    "US-FL-PINELLAS.p": ({"p2o5": 2.0, **YES_TEST}, bare()),
    "US-FL-PINELLAS.summer": ({"on": "2027-05-31"}, {"on": "2027-06-01"}),
    "US-FL-PINELLAS.weather": (GOOD_GROUND, {"heavy_rain_expected": True}),
    "US-FL-PINELLAS.establishment": ({"days_since_seeding": 30.0}, {"days_since_seeding": 1.0}),
    "US-FL-SARASOTA.summer": ({"on": "2027-10-01"}, {"on": "2027-07-04"}),
    "US-FL-SARASOTA.slow": ({"s": 50.0}, {"s": 49.0}),
    "US-FL-SARASOTA.year": (
        {"n": 0.5, "n_earlier_this_year_lb": 3.5},
        {"n": 0.5, "n_earlier_this_year_lb": 3.6},
    ),
    "US-FL-SARASOTA.p": (
        {**phosphate(0.25), "p2o5_earlier_this_year_lb": 0.0},
        {**phosphate(0.26), "p2o5_earlier_this_year_lb": 0.0},
    ),
    "US-FL-SARASOTA.setback": ({"distance_to_water_ft": 10.0}, {"distance_to_water_ft": 9.0}),
    "US-FL-MANATEE.summer": ({"on": "2027-05-31"}, {"on": "2027-06-01"}),
    "US-FL-MANATEE.slow": ({"s": 50.0}, {"s": 49.0}),
    "US-FL-MANATEE.setback": ({"distance_to_water_ft": 10.0}, {"distance_to_water_ft": 9.0}),
}
