"""The guaranteed analysis: rounded down, forms adding up, nothing claimed that may not be."""

from decimal import Decimal

import pytest
from molmass import Formula

from formulas.engine.label.guarantee import (
    LabelBasis,
    LabelSource,
    NetContents,
    draft_label,
    propose,
)
from formulas.engine.label.origins import dissolved_pct
from formulas.engine.label.sources import label_sources
from formulas.engine.label.substances import SUBSTANCES
from formulas.engine.label.text import as_text
from formulas.engine.problem import BadProblem, Stock
from formulas.engine.result import Share
from formulas.reference import base_stocks

TRIAZONE = (LabelSource("urea-triazone solution", {"N.slow": 20.16, "N.urea": 7.84}),)


def draft(analysis, *, kind="specialty", sources=(), density=10.7, volume=265.0, promised=None):
    return draft_label(
        LabelBasis(analysis, kind, tuple(sources), density, volume, promised=promised or {})
    )


def lines(label):
    return {line.key: line.pct for line in label.guarantees}


def refused(label):
    return {entry.key for entry in label.not_claimed}


def test_the_contract_example_prints_tenths_and_leaves_weak_zinc_out():
    label = draft({"N.urea": 12.31, "N.slow": 12.9, "K2O": 3.07, "Zn": 0.03}, sources=TRIAZONE)
    assert label.grade == "25.2-0-3"
    assert [(line.key, str(line.pct), line.parent) for line in label.guarantees] == [
        ("N", "25.2", None),
        ("N.urea", "12.3", "N"),
        ("N.slow", "12.9", "N"),
        ("K2O", "3", None),
    ]
    assert label.slow_release_statement == (
        "12.9% slowly available nitrogen from urea-triazone solution"
    )
    (zinc,) = label.not_claimed
    assert (zinc.key, zinc.pct) == ("Zn", 0.03)
    assert zinc.rule == "0.03 % Zinc (Zn) is below the 0.05 % from which it may be guaranteed."
    assert "WAC 16-200-711" in zinc.source


def test_a_commercial_grade_is_whole_and_its_forms_still_add_up():
    label = draft({"N.urea": 12.31, "N.slow": 12.9, "K2O": 3.97}, kind="commercial")
    assert label.grade == "25-0-3"
    # What is above the whole number comes off the quick form, not off the slow-release claim.
    assert lines(label) == {
        "N": 25,
        "N.urea": Decimal("12.1"),
        "N.slow": Decimal("12.9"),
        "K2O": 3,
    }


def test_a_commercial_guarantee_below_one_has_a_leading_zero_and_a_tenth():
    # Wis. Adm. Code ATCP 40.10(5): a zero precedes the point in any guarantee under 1 %.
    label = draft({"N.urea": 20.0, "K2O": 0.58}, kind="commercial")
    assert label.grade == "20-0-0.5"
    assert str(lines(label)["K2O"]) == "0.5"


@pytest.mark.parametrize("total", [24.000000001, 23.9999999999, 24.0])
def test_floating_noise_around_24_prints_24(total):
    for kind in ("specialty", "commercial"):
        label = draft({"N.urea": total / 3, "N.slow": total * 2 / 3}, kind=kind)
        assert label.grade == "24-0-0"
        assert sum(p for k, p in lines(label).items() if k != "N") == 24


def test_a_content_really_below_is_not_rounded_up():
    assert draft({"N.urea": 23.9999}).grade == "23.9-0-0"
    assert draft({"N.urea": 23.9999}, kind="commercial").grade == "23-0-0"


@pytest.mark.parametrize(
    ("key", "below", "at"),
    [
        # Utah R68-3-4 and WAC 16-200-711: minimum percentages for guaranteed nutrients.
        ("Ca", 0.99, 1.0),
        ("Mg", 0.49, 0.5),
        ("S", 0.99, 1.0),
        ("B", 0.0199, 0.02),
        ("Co", 0.00049, 0.0005),
        ("Cu", 0.0499, 0.05),
        ("Fe", 0.099, 0.1),
        ("Mn", 0.0499, 0.05),
        ("Mo", 0.00049, 0.0005),
        ("Ni", 0.00099, 0.001),
        ("Na", 0.099, 0.1),
        ("Zn", 0.0499, 0.05),
    ],
)
def test_a_secondary_or_micronutrient_appears_from_its_minimum_upward(key, below, at):
    assert key not in lines(draft({key: below}))
    assert refused(draft({key: below})) == {key}
    label = draft({key: at})
    assert float(lines(label)[key]) == at
    assert not label.not_claimed


def test_chlorine_is_guaranteed_only_where_it_was_asked_for():
    assert refused(draft({"Cl": 1.5})) == {"Cl"}
    asked = draft({"Cl": 1.5}, promised={"Cl": 1.0})
    assert lines(asked) == {"Cl": Decimal("1.50")}
    assert not asked.not_claimed
    # WAC 16-200-711: from 0.10 % upward, asked for or not.
    assert refused(draft({"Cl": 0.099}, promised={"Cl": 0.09})) == {"Cl"}


@pytest.mark.parametrize(
    ("key", "pct", "printed"),
    [
        # 355 IAC 2-1-5 and 250-RICR-40-20-10.3 print their least guarantees as 1.00, 0.50, 0.10,
        # 0.0005 and 0.0010; WAC 16-200-721(4) has 10 % total nitrogen and 1.5 % of a form.
        ("N.urea", 10.0, "10"),
        ("N.insoluble", 1.5, "1.5"),
        ("P2O5", 3.0, "3"),
        ("K2O", 6.7, "6.7"),
        ("Ca", 1.0, "1.00"),
        ("Mg", 0.5, "0.50"),
        ("Fe", 0.1, "0.10"),
        ("Fe", 0.1299, "0.12"),
        ("Mo", 0.0005, "0.0005"),
        ("Ni", 0.001, "0.0010"),
        ("NBPT", 0.05, "0.050"),
        ("humic_acid", 6.009, "6.00"),
    ],
)
def test_a_line_prints_the_digits_of_the_state_tables(key, pct, printed):
    label = draft({key: pct})
    written = {line.key: line.printed for line in (*label.guarantees, *label.other_ingredients)}
    assert written[key] == printed
    assert f"{printed}%" in as_text(label)


def test_net_contents_print_rounded_down():
    # 265 gal are 1003.13 L, 2835.56 lb are 1286.188 kg (NIST SP 811).
    net = draft({"N.urea": 20.0}, density=10.70023, volume=265.0).net
    assert {unit: str(amount) for unit, amount in net.printed.items()} == {
        "lb": "2835.5", "kg": "1286.1", "gal": "265.0", "L": "1003.1",
    }  # fmt: skip
    # A tenth that only the arithmetic of floats keeps a package from is there.
    assert str(NetContents(2835.4999999999995, 0.0, 0.0, 0.0).printed["lb"]) == "2835.5"
    assert str(NetContents(2835.4999, 0.0, 0.0, 0.0).printed["lb"]) == "2835.4"


def test_lines_follow_the_uniform_order():
    # WAC 16-200-711(2): directly after N, P2O5, K2O, in the order of the table.
    analysis = {"Zn": 1.0, "Fe": 2.0, "Ca": 3.0, "S": 4.0, "K2O": 5.0, "P2O5": 6.0, "N.urea": 7.0}
    keys = [line.key for line in draft(analysis).guarantees]
    assert keys == ["N", "N.urea", "P2O5", "K2O", "Ca", "S", "Fe", "Zn"]


@pytest.mark.parametrize(("slow", "claimed"), [(2.9, False), (3.0, True)])
def test_slow_release_is_claimed_from_15_percent_of_total_nitrogen(slow, claimed):
    # 12 KAR 4:100 section 1: at least 15 % of the guarantee; total N 20, slow 2.9 or 3.0.
    label = draft({"N.urea": 20.0 - slow, "N.slow": slow}, sources=TRIAZONE)
    assert (label.slow_release_statement is not None) is claimed
    assert ("slow_release" in refused(label)) is not claimed
    names = {line.label for line in label.guarantees}
    assert ("Slowly Available Water Soluble Nitrogen" in names) is claimed
    assert ("Other Water Soluble Nitrogen" in names) is not claimed


def test_slow_release_without_a_named_source_is_not_claimed():
    label = draft({"N.urea": 10.0, "N.slow": 10.0}, sources=(LabelSource("urea", {"N": 10.0}),))
    assert label.slow_release_statement is None
    assert "slow_release" in refused(label)


def test_only_recognised_terms_are_named_as_slow_sources():
    sources = (
        LabelSource("urea", {"N.urea": 8.0, "N.slow": 8.0}),
        LabelSource("methylene urea", {"N.slow": 4.0}),
    )
    label = draft({"N.urea": 8.0, "N.slow": 12.0}, sources=sources)
    assert label.slow_release_statement == "12% slowly available nitrogen from methylene urea"


def test_zeros_never_appear():
    # Oregon ORS 633.321(1)(f): a guarantee of a zero percentage may not appear.
    label = draft({"N.urea": 0.04, "P2O5": 0.0, "K2O": 5.0})
    assert label.grade == "0-0-5"
    assert list(lines(label)) == ["K2O"]
    assert refused(label) == {"N"}


def test_sources_are_merged_and_listed_by_what_they_contribute():
    label = draft(
        {"N.urea": 10.0, "K2O": 6.0, "Zn": 0.01},
        sources=(
            LabelSource("potassium acetate", {"K2O": 6.0}),
            LabelSource("urea", {"N.urea": 5.0}),
            LabelSource("zinc EDTA", {"Zn": 0.01}),
            LabelSource("Urea ", {"N.urea": 5.0}),
        ),
    )
    # 10 % N are 21.4 % urea, 6 % K2O are 12.5 % potassium acetate. Zinc is not guaranteed.
    assert label.derived_from == ("urea", "potassium acetate")
    assert not [c for c in label.cautions if c.code == "source_missing"]


def test_sources_are_listed_by_weight_where_every_weight_is_known():
    # Wis. ATCP 40.10(4): descending order by weight of source material.
    sources = (
        LabelSource("urea", {"N": 20.0}, share_pct=43.0),
        LabelSource("potassium acetate", {"K2O": 6.0}, share_pct=50.0),
    )
    label = draft({"N.urea": 20.0, "K2O": 6.0}, sources=sources)
    assert label.derived_from == ("potassium acetate", "urea")


def test_sources_are_listed_by_what_is_dissolved_and_not_by_the_liquid_it_came_in():
    # 30 % of UAN 28 bring 12 % ammonium nitrate and 9 % urea (40 and 30 % of it, IPNI Nutrient
    # Source Specifics), 45 % of a 13.8 % potash liquid 9.8 % potassium chloride. By the liquids
    # and by the nutrients (6.2 % K2O, twice 4.2 % N) the chloride would stand first.
    label = recipe_label({"KCL138": 45.0, "UAN28": 30.0, "WATER": 25.0})
    assert label.derived_from == ("ammonium nitrate", "potassium chloride", "urea")


@pytest.mark.parametrize("term", SUBSTANCES)
def test_a_substance_holds_what_its_formula_says(term):
    # Atomic masses of IUPAC through molmass; oxides as labels state P and K.
    substance = SUBSTANCES[term]
    oxides = {"P2O5": ("P", "P2O5"), "K2O": ("K", "K2O")}
    element, unit = oxides.get(substance.key, (substance.key, substance.key))
    fraction = Formula(substance.formula).composition()[element].fraction
    if unit != element:
        fraction /= Formula(unit).composition()[element].fraction
    assert substance.pct == pytest.approx(100 * fraction, abs=0.006)


def test_dissolved_mass_agrees_with_what_the_stocks_are_made_of():
    """Independent of the formulas here: the catalogue's own dissolved substances."""
    compared = 0
    for stock in base_stocks():
        # Ammonium thiosulfate is sold by its grade, ammonia above the salt's own included.
        if len(stock.made_of) == 1 == len(stock.derived_from) and stock.code != "ATS12":
            (solute,), (term,) = stock.made_of, stock.derived_from
            assert dissolved_pct(term, stock.analysis) == pytest.approx(solute.pct, rel=0.02)
            compared += 1
    assert compared >= 12


def test_of_a_source_without_a_formula_the_nutrient_mass_counts():
    assert dissolved_pct("Potassium  acetate solution", {"K2O": 24.0}) == pytest.approx(
        50.0, abs=0.1
    )
    assert dissolved_pct("iron EDTA", {"Fe": 0.4, "N.urea": 0.1, "humic_acid": 3.0}) == 0.5


def test_a_guarantee_without_a_source_is_pointed_out():
    label = draft({"N.urea": 20.0, "K2O": 6.0}, sources=(LabelSource("urea", {"N": 20.0}),))
    (caution,) = label.cautions
    assert caution.code == "source_missing"
    assert "Potash" in caution.message


def test_boron_molybdenum_and_nickel_ask_for_a_warning():
    # 355 IAC 2-1-5: from 0.03 % water-soluble B; WAC 16-200-711: above 0.1 % B, 0.001 % Mo.
    def warned(key, pct):
        label = draft({key: pct}, sources=(LabelSource("its salt", {key: 1.0}),))
        return [c.source.split(";")[0] for c in label.cautions if c.code == "label_warning"]

    assert warned("B", 0.02) == []
    assert warned("B", 0.03) == ["355 IAC 2-1-5"]
    assert warned("B", 0.1) == ["355 IAC 2-1-5"]
    assert warned("B", 0.11) == ["355 IAC 2-1-5", "WAC 16-200-711"]
    assert warned("Mo", 0.001) == []
    assert warned("Mo", 0.0011) == ["WAC 16-200-711"]
    assert warned("Ni", 0.001) == ["Note to Wis. Adm. Code ATCP 40.08"]


def test_other_ingredients_stand_apart_and_below_a_digit_are_not_claimed():
    label = draft({"N.urea": 20.0, "humic_acid": 6.009, "NBPT": 0.0505, "seaweed_extract": 0.004})
    assert [(i.key, str(i.pct)) for i in label.other_ingredients] == [
        ("humic_acid", "6.00"),
        ("NBPT", "0.050"),
    ]
    assert refused(label) == {"seaweed_extract"}


def test_net_contents_use_exact_units():
    # NIST SP 811: 1 lb = 0.45359237 kg, 1 gal = 3.785411784 L.
    net = draft({"N.urea": 20.0}, density=10.0, volume=100.0).net
    assert (net.lb, net.gal) == (1000.0, 100.0)
    assert net.kg == pytest.approx(453.59237)
    assert pytest.approx(378.5411784) == net.L


def test_a_wrong_question_names_every_field():
    with pytest.raises(BadProblem) as refusal:
        propose(
            {"N": 20.0, "K2O": float("nan")},
            kind="farm",
            sources=(LabelSource(" ", {"N": -1.0}, share_pct=101.0),),
            density_lb_per_gal=0.0,
            volume_gal=-1.0,
        )
    assert {error.field for error in refusal.value.errors} == {
        "analysis.N",
        "analysis.K2O",
        "kind",
        "sources.0.name",
        "sources.0.supplies.N",
        "sources.0.share_pct",
        "density_lb_per_gal",
        "volume_gal",
    }


def recipe_label(shares):
    facts = {stock.code: stock for stock in base_stocks()}
    stocks = {
        code: Stock(code, f.name, f.density_lb_per_gal, 0.0, f.analysis)
        for code, f in facts.items()
    }
    recipe = [Share(code, pct) for code, pct in shares.items()]
    analysis = {}
    for share in recipe:
        for key, pct in stocks[share.code].analysis.items():
            analysis[key] = analysis.get(key, 0.0) + share.pct / 100 * pct
    sources = label_sources(recipe, stocks, {c: f.derived_from for c, f in facts.items()})
    return draft(analysis, sources=sources)


def test_a_recipe_of_base_stocks_names_its_sources_and_its_slow_release():
    label = recipe_label({"UAN32": 33.0, "TRIAZONE28": 50.0, "MICROPACK": 10.0, "WATER": 7.0})
    assert label.derived_from[0] == "urea-triazone solution"
    assert set(label.derived_from) == {
        "urea-triazone solution", "urea", "ammonium nitrate",
        "iron DTPA", "manganese EDTA", "zinc EDTA",
    }  # fmt: skip
    assert label.slow_release_statement == (
        "10.08% slowly available nitrogen from urea-triazone solution"
    )
    # 10 % of the package brings 0.025 % Cu, below the minimum: neither claimed nor a source.
    assert refused(label) == {"Cu"}
    assert not label.cautions


def test_free_urea_is_not_named_as_the_source_of_slow_nitrogen():
    label = recipe_label({"MU30": 100.0})
    assert label.slow_release_statement == "18% slowly available nitrogen from methylene urea"
    assert set(label.derived_from) == {"methylene urea", "urea"}
