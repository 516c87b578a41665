"""What of a place's rules counts as a change: each figure and text, no day of reading."""

import json
from dataclasses import fields, replace
from datetime import date

from formulas.engine.law.rules import Duty, Rule
from formulas.reference.rule_packs import rule_packs
from orders.compliance.rule_changes import WORDS, differences, said_by


def kept(pack):
    """As the database gives it back."""
    return json.loads(json.dumps(said_by(pack)))


def test_a_pack_read_again_says_the_same_whatever_its_rules():
    for pack in rule_packs():
        again = [
            replace(rule, basis=replace(rule.basis, date_checked=date(2031, 1, 1), note="Other."))
            for rule in (*pack.rules, *pack.duties)
        ]
        rules = tuple(rule for rule in again if not isinstance(rule, Duty))
        duties = tuple(rule for rule in again if isinstance(rule, Duty))
        read_again = replace(pack, rules=rules, duties=duties, date_checked=date(2031, 1, 1))
        assert differences(kept(pack), read_again) == (), pack.code


def test_every_field_of_every_kind_of_rule_has_its_words():
    kinds = (*Rule.__args__, Duty)
    named = {field.name for kind in kinds for field in fields(kind)} - {"basis"}
    assert named <= WORDS.keys()


def test_each_figure_that_differs_is_said_old_and_new():
    for pack in rule_packs():
        for code, said in kept(pack).items():
            for name, value in said.items():
                if isinstance(value, float):
                    before = kept(pack)
                    before[code][name] = value + 1
                    (told,) = differences(before, pack)
                    assert f": {value + 1:g}" in told
                    assert f"→ {value:g}" in told


def test_rules_that_came_and_went_are_said():
    pack = next(pack for pack in rule_packs() if pack.duties and pack.rules)
    before = kept(pack)
    before["XX.gone"] = before.pop(pack.rules[0].basis.code)
    told = differences(before, pack)
    assert len(told) == 2
    assert told[0].endswith(f"is new ({pack.rules[0].basis.citation})")
    assert told[1].endswith("is no longer on file")
