"""A recipe is tested only by a clear jar that is near, complete, long and cold enough."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from formulas.engine import BadProblem
from formulas.engine.storage.jar_distance import RegisteredJar, distance_pct, jar_verdict

RECIPE = {"TRIAZONE": 60.0, "UAN32": 30.0, "KTHIO25": 10.0}
CLEAR = RegisteredJar("J-1", RECIPE, days=14, temperature_f=35, stayed_clear=True)


def judged(jars, recipe=RECIPE, days=14, temperature_f=35, **rest):
    return jar_verdict(recipe, jars, days=days, temperature_f=temperature_f, **rest)


def shifted(points, code="J-2", **changed):
    shares = RECIPE | {"TRIAZONE": 60.0 - points, "UAN32": 30.0 + points}
    return replace(CLEAR, code=code, shares=shares, **changed)


def test_the_same_recipe_long_and_cold_enough_is_tested():
    found = judged([CLEAR])
    assert found.is_tested
    assert found.by is CLEAR
    assert "stayed clear 14 days at 35 F" in found.words
    assert "does not prove" in found.words


@pytest.mark.parametrize(("points", "tested"), [(2.0, True), (2.1, False)])
def test_near_is_within_the_radius(points, tested):
    found = judged([shifted(points)])
    assert found.is_tested is tested
    assert found.nearest[0].distance_pct == pytest.approx(points)
    assert ("more than 2" in found.words) is not tested
    assert judged([shifted(points)], radius_pct=5).is_tested


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"days": 10}, "4 days too short"),
        ({"temperature_f": 40}, "5 F too warm"),
    ],
)
def test_a_shorter_or_warmer_jar_does_not_count(changed, said):
    found = judged([replace(CLEAR, **changed)])
    assert not found.is_tested
    assert found.by is None
    assert said in found.words
    assert "Do a jar test" in found.words


def test_a_longer_and_colder_jar_counts():
    assert judged([replace(CLEAR, days=60, temperature_f=10)]).is_tested


def test_a_jar_without_one_of_the_stocks_does_not_count_however_near():
    recipe = {"TRIAZONE": 60.0, "UAN32": 30.0, "KTHIO25": 9.5, "FEDTA": 0.5}
    found = judged([CLEAR], recipe)
    assert not found.is_tested
    assert found.nearest[0].untested == ("FEDTA",)
    assert "without FEDTA" in found.words


def test_a_jar_that_held_more_than_the_recipe_counts():
    jar = replace(CLEAR, shares={"TRIAZONE": 60.0, "UAN32": 29.0, "KTHIO25": 10.0, "FEDTA": 1.0})
    assert judged([jar]).is_tested


def test_a_failed_jar_as_near_as_the_clear_one_spoils_it():
    failed = shifted(1.0, "J-9", stayed_clear=False)
    found = judged([shifted(1.5), failed])
    assert not found.is_tested
    assert "Jar J-9" in found.words
    assert judged([shifted(0.5), failed]).is_tested
    assert not judged([failed]).is_tested


def test_a_failed_jar_far_away_says_nothing():
    assert judged([CLEAR, shifted(20.0, "J-9", stayed_clear=False)]).is_tested
    assert "did not stay clear" not in judged([shifted(20.0, stayed_clear=False)]).words


def test_between_two_clear_jars_nothing_is_vouched_for():
    # The recipe is the very middle of two clear jars, but B and C never met in one.
    with_b = replace(CLEAR, shares={"A": 50.0, "B": 50.0})
    with_c = replace(CLEAR, code="J-2", shares={"A": 50.0, "C": 50.0})
    found = judged([with_b, with_c], {"A": 50.0, "B": 25.0, "C": 25.0}, radius_pct=30)
    assert not found.is_tested


def test_the_nearest_jars_come_first_with_their_differences():
    jars = [shifted(5.0, "J-5"), shifted(1.0, "J-1"), shifted(9.0, "J-9"), shifted(3.0, "J-3")]
    found = judged(jars)
    assert [each.jar.code for each in found.nearest] == ["J-1", "J-3", "J-5"]
    assert found.nearest[1].difference_pct == pytest.approx({"TRIAZONE": 3.0, "UAN32": -3.0})
    assert len(judged(jars, most=1).nearest) == 1


def test_without_any_jar_one_is_asked_for():
    found = judged([])
    assert not found.is_tested
    assert found.nearest == ()
    assert "Nothing like it was tested" in found.words


def recipes():
    codes = ("A", "B", "C", "D")
    return (
        st.lists(st.integers(0, 9), min_size=4, max_size=4)
        .filter(any)
        .map(
            lambda parts: {
                code: 100.0 * part / sum(parts)
                for code, part in zip(codes, parts, strict=True)
                if part
            }
        )
    )


@given(recipes(), recipes(), recipes())
def test_the_distance_is_a_distance_from_0_to_100(first, second, third):
    there = distance_pct(first, second)
    assert 0 <= there <= 100 + 1e-9
    assert there == pytest.approx(distance_pct(second, first))
    assert distance_pct(first, first) == 0
    assert there <= distance_pct(first, third) + distance_pct(third, second) + 1e-9
    # What would have to be exchanged: the part of one that the other does not hold.
    shared = sum(min(first.get(code, 0), second.get(code, 0)) for code in "ABCD")
    assert there == pytest.approx(100 - shared)


@given(recipes(), st.lists(recipes(), max_size=4), st.floats(0, 30))
def test_a_tested_recipe_always_has_a_clear_complete_jar_within_the_radius(recipe, shares, radius):
    jars = [
        replace(CLEAR, code=f"J-{number}", shares=each, stayed_clear=number % 3 != 2)
        for number, each in enumerate(shares)
    ]
    found = judged(jars, recipe, radius_pct=radius)
    if found.is_tested:
        assert found.by.stayed_clear
        assert set(recipe) <= set(found.by.shares)
        assert distance_pct(recipe, found.by.shares) <= radius + 1e-6


@pytest.mark.parametrize(
    ("changed", "field"),
    [
        ({"recipe": {"A": 90.0}}, "recipe"),
        ({"recipe": {"A": float("nan")}}, "recipe"),
        ({"jars": [replace(CLEAR, shares={})]}, "jars.0.shares"),
        ({"jars": [replace(CLEAR, days=-1)]}, "jars.0"),
        ({"days": -1}, "days"),
        ({"temperature_f": float("inf")}, "temperature_f"),
        ({"radius_pct": -1}, "radius_pct"),
    ],
)
def test_a_wrong_question_is_refused_by_field(changed, field):
    asked = {"jars": [CLEAR]} | changed
    with pytest.raises(BadProblem) as refused:
        judged(**asked)
    assert field in [error.field for error in refused.value.errors]
