"""Which packs hold at an address, and which of two limits is the stricter."""

import pytest
from law_cases import PACKS, spray

from formulas.engine.law import (
    ShipTo,
    Status,
    Topic,
    Verdict,
    check_application,
    choose_packs,
    duties,
    governing,
    overall,
)
from formulas.engine.law.choice import same_name
from formulas.engine.law.rules import DutyTopic

ALL = tuple(PACKS.values())


def codes(*address):
    return [pack.code for pack in choose_packs(ALL, ShipTo(*address)).packs]


@pytest.mark.parametrize(
    ("address", "expected"),
    [
        (("MD",), ["US-MD"]),
        ((" fl ", "Orange County"), ["US-FL", "US-FL-ORANGE"]),
        (("FL", "orange"), ["US-FL", "US-FL-ORANGE"]),
        (("FL", "Brevard", "Palm Shores"), ["US-FL", "US-FL-PALM-SHORES"]),
        (("FL", "", "palm shores"), ["US-FL", "US-FL-PALM-SHORES"]),
        (("FL", "Orange", "Palm Shores"), ["US-FL", "US-FL-ORANGE"]),
        (("FL", "Brevard"), ["US-FL"]),
        (("NY", "Orange"), ["US-NY"]),
        (("WY", "Teton"), []),
    ],
)
def test_state_and_local_packs_hold_together(address, expected):
    assert codes(*address) == expected


def test_a_parish_is_named_with_or_without_the_word():
    assert same_name("St. Tammany Parish", "st tammany")
    assert same_name("Marion County", "MARION")
    assert not same_name("Marion", "Martin")


def test_a_state_without_a_pack_is_said_and_never_passes():
    choice = choose_packs(ALL, ShipTo("WY"))
    assert choice.notes[0] == "No rule pack stands for WY: nothing was checked there."
    found = check_application(choice.packs, spray())
    assert [f.verdict for f in found] == [Verdict.NOT_ASSESSED]
    assert found[0].topic is Topic.NO_PACK
    assert overall(found) is overall(()) is Verdict.NOT_ASSESSED


def test_an_address_without_county_is_asked_for_it_where_local_rules_stand():
    (note,) = choose_packs(ALL, ShipTo("FL")).notes
    assert note.startswith("Name the county and place: local rules stand for Islamorada, Florida")


def test_a_pack_of_unverified_figures_says_so():
    notes = choose_packs(ALL, ShipTo("CT")).notes
    assert notes[-1].startswith("Connecticut: no figure of this pack was read")


def test_the_stricter_of_state_and_county_wins_with_the_reason():
    packs = choose_packs(ALL, ShipTo("FL", "Pinellas")).packs
    found = check_application(packs, spray(n=0.6, s=50.0))
    (winner,) = [g for g in governing(found) if g.topic is Topic.TOTAL_N]
    assert winner.stricter.rule.code == "US-FL-PINELLAS.rate"
    assert winner.reason == (
        "Pinellas County, Florida (at most 0.5 lb N per 1,000 sq ft) is stricter than Florida"
        " (at most 1); keeping it keeps both."
    )
    assert winner.stricter.verdict is Verdict.FAILS


def test_equal_limits_of_state_and_county_are_said_to_be_equal():
    packs = choose_packs(ALL, ShipTo("FL", "Orange")).packs
    found = check_application(packs, spray(n=0.6, s=50.0))
    (winner,) = [g for g in governing(found) if g.topic is Topic.TOTAL_N]
    assert winner.reason.endswith("ask the same.")


def test_of_two_lower_limits_the_higher_is_the_stricter():
    packs = (PACKS["US-PA"], PACKS["US-FL-ORANGE"])
    found = check_application(packs, spray(n=0.8, s=10.0))
    (winner,) = [g for g in governing(found) if g.topic is Topic.SLOW_SHARE]
    assert winner.stricter.limit == 65.0


def test_a_failed_unverified_rule_likely_fails_the_whole_and_an_active_one_fails_it():
    pinellas = check_application((PACKS["US-FL-PINELLAS"],), spray(n=0.6))
    assert Verdict.FAILS in {f.verdict for f in pinellas}
    assert {f.status for f in pinellas} == {Status.UNVERIFIED}
    assert overall(pinellas) is Verdict.LIKELY_FAILS
    assert overall(check_application((PACKS["US-PA"],), spray(n=1.0))) is Verdict.FAILS


def test_a_wholly_answered_application_passes_as_a_whole():
    answers = {
        "frozen_or_snow": False,
        "professional": True,
        "distance_to_water_ft": 30.0,
    }
    found = check_application(
        (PACKS["US-VT"],), spray(s=20.0, win=20.0, on="2027-05-01", **answers)
    )
    assert overall(found) is Verdict.PASSES


def test_passing_unverified_figures_alone_is_no_pass():
    found = check_application((PACKS["US-FL"],), spray(n=0.5))
    assert {f.verdict for f in found} == {Verdict.PASSES}
    assert {f.status for f in found} == {Status.UNVERIFIED}
    assert overall(found) is Verdict.NOT_ASSESSED


def test_duties_come_from_every_pack_with_their_citation():
    found = duties((PACKS["US-ID"], PACKS["US-WI"]))
    records = [duty for duty in found if duty.topic is DutyTopic.RECORDS]
    assert [duty.text for duty in records] == ["Records of customer formulas are kept 36 months."]
    assert {duty.basis.jurisdiction for duty in found} == {"Idaho", "Wisconsin"}
    assert any("55 gallons" in duty.text for duty in found if duty.topic is DutyTopic.BULK)
