"""A finding of the law is worded by what it is, in the reader's language and units."""

import pytest

from blendshop.languages.choice import Choice, written_in
from formulas.engine.law import LawFinding, Verdict
from formulas.engine.law.rules import Topic
from formulas.wording.law import finding_words, topic_words, verdict_words

SPANISH = Choice("es", "us")


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
