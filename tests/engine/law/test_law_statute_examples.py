"""Every rule of every pack passes one example of its own text and fails another."""

import pytest
from law_cases import PACKS, spray
from statute_examples import EXAMPLES

from formulas.engine.law import CAUTION, Status, Verdict, check_application

RULES = {rule.basis.code: (pack, rule) for pack in PACKS.values() for rule in pack.rules}


def findings_of(code, example):
    pack, _ = RULES[code]
    found = check_application((pack,), spray(**example))
    return [finding for finding in found if finding.rule.code == code]


def test_every_rule_has_its_pair_of_examples():
    assert set(EXAMPLES) == set(RULES)


@pytest.mark.parametrize("code", sorted(EXAMPLES))
def test_an_application_that_keeps_the_text_passes(code):
    verdicts = {finding.verdict for finding in findings_of(code, EXAMPLES[code][0])}
    assert verdicts == {Verdict.PASSES}


@pytest.mark.parametrize("code", sorted(EXAMPLES))
def test_an_application_that_breaks_the_text_fails_with_a_way_out(code):
    failed = [f for f in findings_of(code, EXAMPLES[code][1]) if f.verdict is Verdict.FAILS]
    assert failed
    for finding in failed:
        assert finding.fix
        assert finding.sentence.endswith((".", '"'))


@pytest.mark.parametrize("code", sorted(EXAMPLES))
def test_every_answer_names_text_day_and_who_decides(code):
    for example in EXAMPLES[code]:
        for finding in findings_of(code, example):
            assert finding.rule.citation
            assert finding.rule.url.startswith("http")
            assert finding.rule.date_checked.year == 2026
            assert finding.rule.check_with
            assert finding.caution == CAUTION
            assert finding.status is finding.rule.status
            assert finding.status is Status.ACTIVE or finding.rule.note
