"""The compatibility rules the trade must be able to rely on, between named stocks."""

import pytest

from formulas.engine.mark import Mark
from formulas.engine.problem import Effect
from formulas.reference import base_stocks, compatibility_rules, jar_test

BY_CODE = {stock.code: stock for stock in base_stocks()}


def effects(code_a: str, code_b: str) -> set[Effect]:
    a, b = BY_CODE[code_a].traits, BY_CODE[code_b].traits
    return {
        rule.effect
        for rule in compatibility_rules()
        if (rule.trait_a in a and rule.trait_b in b) or (rule.trait_a in b and rule.trait_b in a)
    }


@pytest.mark.parametrize(
    ("code_a", "code_b"),
    [
        ("TRIAZONE28", "FESULF5"),
        ("TRIAZONE28", "PHOSACID75"),
        ("MU30", "PHOSACID75"),
        ("CANITRATE", "APP1034"),
        ("CANITRATE", "AMS8"),
        ("CANITRATE", "ATS12"),
        ("CANITRATE", "KTHIO25"),
        ("CANITRATE", "KCARB30"),
        ("KTHIO25", "PHOSACID75"),
        ("ATS12", "FESULF5"),
        ("FESULF5", "APP1034"),
        ("MGSULF4", "APP1034"),
        ("UAN28", "KOH45"),
        ("HUMIC12", "PHOSACID75"),
        ("HUMIC12", "CANITRATE"),
        ("ZNSULF12", "APP1137"),
        ("MNSULF11", "DKP18"),
        ("CUSULF6", "MKP15"),
        ("ZNSULF12", "TRIAZONE28"),
        ("MNSULF11", "KTHIO25"),
        ("CUSULF6", "KCARB30"),
        ("ZNSULF12", "CANITRATE"),
        ("MKP15", "KTHIO25"),
        ("MKP15", "MU30"),
        ("DKP18", "MGSULF4"),
        ("DKP18", "CANITRATE"),
    ],
)
def test_these_stocks_must_not_meet(code_a, code_b):
    assert Effect.BLOCKS in effects(code_a, code_b)


@pytest.mark.parametrize(
    ("code_a", "code_b"),
    [
        ("NBPT25", "PHOSACID75"),
        ("KACETATE24", "UAN28"),
        ("FEEDTA", "TRIAZONE28"),
        ("KCL138", "APP1034"),
        ("HUMIC12", "UAN32"),
    ],
)
def test_these_stocks_ask_for_a_jar_test(code_a, code_b):
    assert Effect.JAR_TEST in effects(code_a, code_b)
    assert Effect.BLOCKS not in effects(code_a, code_b)


@pytest.mark.parametrize(
    ("code_a", "code_b"),
    [("MICROPACK", "TRIAZONE28"), ("UAN28", "TRIAZONE28"), ("FULVIC5", "PHOSACID75")],
)
def test_these_stocks_go_together(code_a, code_b):
    assert effects(code_a, code_b) == {Effect.FINE}


def test_humic_extract_goes_with_triazone_up_to_one_to_one_as_common_practice():
    (rule,) = (r for r in compatibility_rules() if r.effect is Effect.LIMIT)
    assert (rule.trait_a, rule.trait_b, rule.largest_ratio) == ("humic", "triazone", 1.0)
    assert rule.source.mark is Mark.COMMON_PRACTICE
    assert Effect.LIMIT in effects("HUMIC12", "TRIAZONE28")


def test_the_jar_test_looks_at_once_overnight_and_in_the_cold():
    # 15 minutes: Utah State University Extension. Overnight: UC ANR.
    waits = [step.wait_hours for step in jar_test().steps]
    assert {0.25, 24.0, 48.0} <= set(waits)
    assert [w for w in waits if w] == sorted(w for w in waits if w)


@pytest.mark.parametrize("iron", ["FEEDTA", "FEDTPA", "FEEDDHA", "MICROPACK"])
@pytest.mark.parametrize("metal", ["CUSULF6", "ZNSULF12", "MNSULF11"])
def test_unchelated_metal_beside_chelated_iron_asks_for_a_jar_test_with_its_secondary_source(
    metal, iron
):
    (rule,) = [
        rule
        for rule in compatibility_rules()
        if rule.trait_a in BY_CODE[metal].traits and rule.trait_b == "chelated_iron"
    ]
    assert rule.trait_b in BY_CODE[iron].traits
    assert rule.effect is Effect.JAR_TEST
    assert "push iron out of its chelate" in rule.reason
    assert "secondary" in rule.source.text
    assert "displacing_metal" not in BY_CODE["FESULF5"].traits


@pytest.mark.parametrize(
    ("iron", "other"),
    [
        ("DKP18", "UAN32"),
        ("DKP18", "FEEDTA"),
        ("DKP18", "FEDTPA"),
        ("FEDTPA", "TRIAZONE28"),
        ("FEDTPA", "CANITRATE"),
        ("FEDTPA", "KCARB30"),
        ("FEDTPA", "HUMIC12"),
        ("FEEDDHA", "MU30"),
        ("FEEDDHA", "HUMIC12"),
        ("FEEDDHA", "UAN32"),
        ("NAMOLY9", "CANITRATE"),
        ("NAMOLY9", "CUSULF6"),
    ],
)
def test_beyond_its_window_or_solubility_a_jar_decides(iron, other):
    assert Effect.JAR_TEST in effects(iron, other)


def test_molybdate_goes_with_phosphate():
    assert effects("NAMOLY9", "APP1034") == {Effect.FINE}
