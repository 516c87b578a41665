"""What a crew is warned of is marked word by word, so that every language has it."""

from formulas.engine.field.spray_cautions import Application, spray_cautions
from orders.crew_sheet.crew_cautions import SAID_AS_THEY_ARE, SENTENCES


def test_each_sentence_taken_from_the_spray_sheet_is_marked_for_translation():
    everything = Application(
        quick_n_lb_per_1000sqft=1.5,
        slow_n_lb_per_1000sqft=0.5,
        product_gal_per_1000sqft=0.5,
        carrier_gal_per_1000sqft=0.5,
        air_temp_f=None,
        p2o5_lb_per_1000sqft=0,
        iron_lb_per_1000sqft=0,
        solutes=frozenset({"K2S2O3", "KOH"}),
    )
    said = {found.code: found.message for found in spray_cautions(everything)}
    assert said.keys() >= SAID_AS_THEY_ARE
    assert {said[code] for code in SAID_AS_THEY_ARE} == SENTENCES
