"""Hazard cut-offs applied to blends, by worked examples of 29 CFR 1910.1200 Appendix A."""

import pytest
from molmass import Formula

from formulas.engine.law.mixture_hazards import Portion, mixture_hazards
from formulas.engine.result import Severity
from formulas.reference import base_stocks
from formulas.reference.mixture_hazards import mixture_table

STOCKS = {stock.code: stock for stock in base_stocks()}
TABLE = mixture_table()


def blend(**pct: float) -> tuple[Portion, ...]:
    """So many percent of stocks, filled up with water."""
    pct["WATER"] = pct.get("WATER", 0.0) + 100.0 - sum(pct.values())
    return tuple(
        Portion(share, STOCKS[code].analysis, STOCKS[code].traits) for code, share in pct.items()
    )


def certain(**pct: float) -> set[str]:
    found = mixture_hazards(blend(**pct), TABLE)
    return {each.hazard.code for each in found if each.is_certain}


@pytest.mark.parametrize(
    ("borate_pct", "classes"),
    [
        # 10 % B in the stock: 0.1 % boric acid is 0.0175 % B (Table A.7.1; 17.48 % B in H3BO3).
        (1.0, {"reproductive_1"}),
        (0.176, {"reproductive_1"}),
        (0.174, set()),
        (0.0, set()),
    ],
)
def test_a_blend_is_toxic_to_reproduction_from_a_tenth_of_a_percent_of_boric_acid(
    borate_pct, classes
):
    assert certain(BORATE10=borate_pct) == classes


def test_nbpt_counts_from_a_tenth_of_a_percent_of_the_active():
    # 25 % in the stock: 0.5 % of it is 0.125 %, 0.3 % is 0.075 %, 0.4 % is the cut-off itself.
    assert certain(NBPT25=0.5) == certain(NBPT25=0.4) == {"reproductive_2"}
    assert certain(NBPT25=0.3) == set()


def test_eye_damage_adds_up_over_the_ingredients():
    # App. A.3.3: together 3 %. 45 % calcium nitrate: 40 % of the stock is 18 %, 5 % is 2.25 %;
    # 3 % of a 30 % zinc sulfate is 0.9 %, and 2.25 + 0.9 = 3.15.
    assert certain(CANITRATE=40) == {"eye_damage_1"}
    assert certain(CANITRATE=5) == certain(ZNSULF12=3) == set()
    assert certain(CANITRATE=5, ZNSULF12=3) == {"eye_damage_1"}


def test_one_percent_of_copper_sulfate_is_a_severe_marine_pollutant():
    # 49 CFR 171.8 and 172.101 App. B: PP from 1 %; 15 % in the stock.
    assert "marine_pollutant" in certain(CUSULF6=6.7)
    assert "marine_pollutant" not in certain(CUSULF6=6.6)
    assert certain(CUEDTA=6) == set()


def test_what_is_only_supposed_is_told_and_never_printed_as_a_class():
    (cancer, allergy) = mixture_hazards(blend(TRIAZONE28=60), TABLE)
    assert not cancer.is_certain
    assert cancer.finding.severity is Severity.INFO
    assert "0.3 %" in cancer.finding.message  # 60 % of at most 0.5 %
    assert "value of each lot" in cancer.finding.message
    assert allergy.hazard.code == "skin_sensitizer_1"
    assert mixture_hazards(blend(TRIAZONE28=19), TABLE) == ()
    # All of the rest of an NBPT stock may be NMP: 0.2 % of it is 0.15 %.
    (solvent,) = mixture_hazards(blend(NBPT25=0.2), TABLE)
    assert (solvent.hazard.code, solvent.is_certain) == ("reproductive_1", False)
    assert mixture_hazards(blend(NBPT25=0.13), TABLE) == ()


def test_what_is_certain_comes_first():
    # 0.5 % of an NBPT stock: 0.125 % NBPT for certain, up to 0.375 % NMP by supposition.
    found = mixture_hazards(blend(NBPT25=0.5), TABLE)
    assert [(each.hazard.code, each.is_certain) for each in found] == [
        ("reproductive_2", True),
        ("reproductive_1", False),
    ]


def test_what_is_stated_counts_alone_where_it_reaches_the_cut_off():
    found = mixture_hazards(blend(BORATE10=1, NBPT25=0.2), TABLE)
    (borates,) = [each for each in found if each.hazard.code == "reproductive_1"]
    assert borates.is_certain
    assert [part.name for part, _ in borates.found] == ["borates, counted as boric acid"]


def test_a_heel_counts_with_its_contents():
    portions = (Portion(50, {"B": 0.2}), Portion(50, STOCKS["WATER"].analysis))
    (found,) = mixture_hazards(portions, TABLE)
    assert found.hazard.code == "reproductive_1"
    assert "0.57 %" in found.finding.message  # 0.1 % B as boric acid
    assert found.finding.severity is Severity.CAUTION
    assert found.sentence == (
        "DANGER: may damage fertility or the unborn child (H360)."
        " Contains borates, counted as boric acid."
    )


@pytest.mark.parametrize(
    ("key", "formula"), [("B", "H3BO3"), ("Ca", "Ca(NO3)2"), ("Zn", "ZnSO4"), ("Cu", "CuSO4")]
)
def test_contents_become_substances_by_atomic_masses(key, formula):
    # Atomic masses: molmass (IUPAC).
    (part,) = [part for part in TABLE.parts if part.key == key]
    element = Formula(formula).composition()[key].fraction
    assert part.times == pytest.approx(1 / element, rel=5e-4)


def test_an_everyday_blend_without_such_parts_is_in_no_class():
    assert mixture_hazards(blend(UAN32=60, KTHIO25=10, APP1034=5), TABLE) == ()
