"""A finding of the law is worded by what it is, in the reader's language and units."""

from datetime import date
from typing import get_args

import pytest

from blendshop.languages.choice import Choice, written_in
from formulas.engine.law import (
    GRASSES,
    Circumstances,
    LawFinding,
    ShipTo,
    Verdict,
    at_n_rate,
    check_application,
    check_season,
    choose_packs,
)
from formulas.engine.law.choice import Remark, RemarkKind
from formulas.engine.law.remedies import (
    ApplyAtMost,
    AsTheTextSays,
    KeepFromWater,
    KeepPhosphateDown,
    LessOverTheYear,
    MoreWhenSlow,
    Nutrient,
    OutsideTheDates,
    PrintTheSentence,
    RaiseSlow,
    RaiseSlowOrApplyLess,
    ReadTheRules,
    Remedy,
    WaitDays,
    WaitForGround,
)
from formulas.engine.law.rules import Ground, Topic
from formulas.reference.rule_packs import rule_packs
from formulas.wording.law import (
    caution_words,
    finding_words,
    fix_words,
    remark_words,
    topic_words,
    verdict_words,
)
from formulas.wording.law_rules import grass_words
from orders.compliance.questions import QUESTIONS, asked_in_words

SPANISH = Choice("es", "us")
METRIC = Choice("es", "metric")


def finding(topic, *, verdict=Verdict.FAILS, **figures):
    return LawFinding(verdict, topic, "Maryland", "The engine's own sentence.", **figures)


@pytest.mark.parametrize("topic", Topic)
def test_every_topic_and_verdict_has_its_spanish(topic):
    english = topic_words(topic), [verdict_words(each) for each in Verdict]
    with written_in(SPANISH):
        assert topic_words(topic) != english[0]
        for verdict, word in zip(Verdict, english[1], strict=True):
            assert verdict_words(verdict) != word
            assert "engine" not in finding_words(finding(topic, verdict=verdict))


def test_figure_and_limit_stand_in_the_reader_s_units():
    over = finding(Topic.TOTAL_N, limit=0.9, figure=1.1)
    assert finding_words(over) == "The engine's own sentence."
    with written_in(SPANISH):
        assert finding_words(over) == (
            "1.10 lb por 1,000 pies²; se permite a lo sumo 0.90 lb por 1,000 pies²."
        )
    with written_in(Choice("es", "metric")):
        # 1 lb on 1,000 sq ft is 4.8824 g/m2: 0.45359237 kg on 92.90304 m2 (NIST SP 811).
        assert "5.4 g/m²; se permite a lo sumo 4.4 g/m²" in finding_words(over)
    slow = finding(Topic.SLOW_SHARE, limit=20, figure=12.5, largest=False)
    with written_in(SPANISH):
        assert finding_words(slow) == "12.5%; se pide al menos 20.0%."


#: What fixes it, as read in US and in metric units. 1 lb on 1,000 sq ft is 4.8824 g/m2 and a foot
#: 0.3048 m (NIST SP 811); an upper limit is rounded down and a lower one up.
REMEDIES = [
    (ApplyAtMost(0.8234), "a lo sumo 0.823 lb por 1,000 pies² de nitr", "a lo sumo 4.02 g/m²"),
    (ApplyAtMost(0.9, Nutrient.P2O5, at_a_time=True), "de fosfato por vez", "a lo sumo 4.3 g/m²"),
    (MoreWhenSlow(2.0, 65, frozenset({3, 4})), "65.0% de liberación lenta, en marzo, abril", ""),
    (AsTheTextSays("No word of it."), "pregunte a la oficina", ""),
    (RaiseSlowOrApplyLess(22.22, True, 0.7), "que la ley cuenta a 22.3% del nitr", "3.4 g/m²"),
    (RaiseSlow(20, False, 0.7, True), "a 20.0% del nitrógeno total. O aplique", "(solo profes"),
    (RaiseSlow(20, True, None, False), "que no es soluble en agua a 20.0%", ""),
    (LessOverTheYear(0.1, Nutrient.N), "0.10 lb por 1,000 pies² de nitrógeno menos", "0.5 g/m²"),
    (KeepPhosphateDown(0.67), "Mantenga el P2O5 en 0.67% o menos.", ""),
    (OutsideTheDates(0.0), "Aplique fuera de estas fechas.", ""),
    (OutsideTheDates(0.5), "a lo sumo 0.50 lb por 1,000 pies²", "a lo sumo 2.4 g/m²"),
    (WaitForGround((Ground.SATURATED,)), "Espere: suelo saturado de agua.", ""),
    (KeepFromWater(25, True), "Quede a 25 pies del agua, o use", "Quede a 7.7 m del agua"),
    (WaitDays(17.5), "Espere 18 días más.", ""),
    (PrintTheSentence(), "palabra por palabra", ""),
    (ReadTheRules(), "Lea las reglas del estado", ""),
]


@pytest.mark.parametrize(("remedy", "us", "metric"), REMEDIES)
def test_what_would_fix_it_is_said_in_spanish(remedy, us, metric):
    one = finding(Topic.TOTAL_N, remedies=(remedy,))
    with written_in(SPANISH):
        assert us in fix_words(one)
        assert one.fix not in fix_words(one)
    with written_in(METRIC):
        assert metric in fix_words(one)


def test_every_remedy_is_tried():
    assert {type(remedy) for remedy, _us, _metric in REMEDIES} == set(get_args(Remedy))


def spanish_of_every_state():
    """Every finding of the shipped packs for a hard blend on a winter's day, with its Spanish."""
    forms = {"N.urea": 14.0, "P2O5": 3.0}
    for pack in rule_packs():
        packs = choose_packs(rule_packs(), ShipTo(pack.state, pack.county, pack.place)).packs
        for answers in (Circumstances(), Circumstances(professional=True, new_lawn=False)):
            hard = at_n_rate(forms, 1.3, date(2027, 1, 10), answers)
            for each in (*check_application(packs, hard), *check_season(packs, [hard] * 5)):
                yield each, finding_words(each), fix_words(each)


def test_no_finding_of_any_state_falls_back_to_english():
    with written_in(SPANISH):
        found = list(spanish_of_every_state())
    assert len(found) > 100
    english = {" the ", " of ", " and ", " from ", "Apply", "Keep", " at most", "Not with"}
    for each, said, fix in found:
        assert each.sentence not in said
        assert not any(word in f" {said} {fix} " for word in english), (said, fix)
        assert bool(fix) == bool(each.fix)
    words = " ".join(said for _each, said, _fix in found)
    assert "Sin nitrógeno ni fosfato del 2 de diciembre al fin de febrero" in words
    assert "ninguna tras una franja natural de 10 pies" in words


def test_questions_grasses_and_remarks_have_their_spanish():
    asked = [*(q.name for q in QUESTIONS), "label_text", "on"]
    remarks = [Remark(kind, "WY") for kind in RemarkKind]
    english = [
        *(asked_in_words(name)[1] for name in asked),
        *map(grass_words, GRASSES),
        *map(remark_words, remarks),
        caution_words(),
    ]
    with written_in(SPANISH):
        spanish = [
            *(asked_in_words(name)[1] for name in asked),
            *map(grass_words, GRASSES),
            *map(remark_words, remarks),
            caution_words(),
        ]
    assert [a for a, b in zip(english, spanish, strict=True) if a == b] == []
