"""Allowances against the published tables, row by row and between the rows."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from formulas.engine.label.allowances import allowance_pct
from formulas.reference.allowances import allowance_rules

RULES = allowance_rules()
UNIFORM = RULES["uniform"]

# Florida Statutes 576.061(1)(b), 2014 print: guarantee, total N, available P2O5, soluble K2O.
STATUTE = [
    (4, 0.49, 0.67, 0.41),
    (5, 0.51, 0.67, 0.43),
    (6, 0.52, 0.67, 0.47),
    (7, 0.54, 0.68, 0.53),
    (8, 0.55, 0.68, 0.60),
    (9, 0.57, 0.68, 0.65),
    (10, 0.58, 0.69, 0.70),
    (12, 0.61, 0.69, 0.79),
    (14, 0.63, 0.70, 0.87),
    (16, 0.67, 0.70, 0.94),
    (18, 0.70, 0.71, 1.01),
    (20, 0.73, 0.72, 1.08),
    (22, 0.75, 0.72, 1.15),
    (24, 0.78, 0.73, 1.21),
    (26, 0.81, 0.73, 1.27),
    (28, 0.83, 0.74, 1.33),
    (30, 0.86, 0.75, 1.39),
    (32, 0.88, 0.76, 1.44),
]


@pytest.mark.parametrize(("guarantee", "n", "p2o5", "k2o"), STATUTE)
def test_every_row_of_the_statute(guarantee, n, p2o5, k2o):
    allowed = {key: allowance_pct(key, guarantee, UNIFORM) for key in ("N", "P2O5", "K2O")}
    assert allowed == {"N": n, "P2O5": p2o5, "K2O": k2o}


@pytest.mark.parametrize(
    ("low", "high"), [(i, i + 1) for i in range(len(STATUTE) - 1)], ids=lambda i: str(STATUTE[i][0])
)
def test_between_two_rows_the_allowance_is_interpolated(low, high):
    # "For guarantees not listed, calculate the appropriate value by interpolation."
    middle = (STATUTE[low][0] + STATUTE[high][0]) / 2
    for column, key in enumerate(("N", "P2O5", "K2O"), start=1):
        expected = (STATUTE[low][column] + STATUTE[high][column]) / 2
        assert allowance_pct(key, middle, UNIFORM) == pytest.approx(expected, abs=1e-12)


def test_eleven_percent_nitrogen():
    # Between 0.58 at 10 % and 0.61 at 12 %.
    assert allowance_pct("N", 11, UNIFORM) == pytest.approx(0.595)


def test_the_grid_is_flat_below_4_and_above_32():
    assert allowance_pct("N", 1, UNIFORM) == 0.49
    # Never more than is guaranteed at all.
    assert allowance_pct("K2O", 0.3, UNIFORM) == 0.3
    assert allowance_pct("N", 46, UNIFORM) == 0.88
    # AAPFCO copy: P2O5 above 52 % and K2O above 62 % are referred to the investigator.
    assert allowance_pct("P2O5", 52, UNIFORM) == 0.76
    assert allowance_pct("P2O5", 52.1, UNIFORM) is None
    assert allowance_pct("K2O", 62, UNIFORM) == 1.44
    assert allowance_pct("K2O", 62.1, UNIFORM) is None


@pytest.mark.parametrize(
    ("key", "guarantee", "allowance"),
    [
        # Florida Statutes 576.061(1)(c), 2014: 0.40, insoluble 0.30, never above half.
        ("N.nitrate", 7, 0.40),
        ("N.ammoniacal", 7, 0.40),
        ("N.urea", 14, 0.40),
        ("N.insoluble", 7, 0.30),
        ("N.nitrate", 0.5, 0.25),
        ("N.insoluble", 0.5, 0.25),
        # N.H. Agr 1105.04: 0.2 unit + 5 % for Ca, Mg, S; at most 1 unit.
        ("Ca", 1, 0.25),
        ("Mg", 4, 0.4),
        ("S", 16, 1.0),
        ("S", 20, 1.0),
        # 0.003 unit + 15 % for B; 0.0001 unit + 30 % for Co and Mo; 0.005 unit + 10 % others.
        ("B", 0.02, 0.006),
        ("Co", 0.0005, 0.00025),
        ("Mo", 0.0005, 0.00025),
        ("Fe", 1, 0.105),
        ("Fe", 0.1, 0.015),
        ("Mn", 0.05, 0.01),
        ("Zn", 20, 1.0),
        ("Cl", 0.1, 0.015),
        ("Cu", 0.05, 0.01),
        ("Na", 0.1, 0.015),
    ],
)
def test_forms_secondary_and_micronutrients(key, guarantee, allowance):
    assert allowance_pct(key, guarantee, UNIFORM) == pytest.approx(allowance, abs=1e-12)
    assert UNIFORM.allowances[key].verified


def test_what_was_not_read_is_said_to_be_unverified():
    unread = {key for key, allowance in UNIFORM.allowances.items() if not allowance.verified}
    assert unread == {"Ni", "N.slow"}


def test_nothing_is_allowed_for_what_has_no_published_figure():
    assert allowance_pct("humic_acid", 6, UNIFORM) is None
    assert allowance_pct("N", 0, UNIFORM) is None


def test_virginia_and_pennsylvania_have_tests_of_their_own():
    # 2VAC5-400-50.A: 0.30 % + 3.0 % of the guarantee; 3 Pa.C.S. 6808(a): 10 %, at most 2 units.
    assert allowance_pct("N", 28, RULES["VA"]) == pytest.approx(1.14)
    assert allowance_pct("K2O", 5, RULES["PA"]) == pytest.approx(0.5)
    assert allowance_pct("N", 28, RULES["PA"]) == 2.0
    assert [RULES[code].index_floor_pct for code in ("uniform", "VA", "PA")] == [98, 97, 97]
    # All else is as in the uniform rule.
    assert allowance_pct("Fe", 1, RULES["VA"]) == allowance_pct("Fe", 1, UNIFORM)


@given(st.sampled_from(sorted(UNIFORM.allowances)), st.floats(0.0001, 100), st.floats(0, 5))
def test_an_allowance_never_exceeds_its_guarantee_and_never_shrinks_with_it(key, guarantee, more):
    low = allowance_pct(key, guarantee, UNIFORM)
    high = allowance_pct(key, guarantee + more, UNIFORM)
    if low is not None:
        assert 0 < low <= guarantee
    if low is not None and high is not None:
        assert high >= low - 1e-12
