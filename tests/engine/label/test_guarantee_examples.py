"""Guarantees held to statutes, rules and extension examples; the source stands beside each."""

from decimal import Decimal

import pytest

from formulas.engine.label.guarantee import LabelBasis, LabelSource, draft_label, propose
from formulas.engine.label.nitrogen_lines import share_of_guarantee_pct
from formulas.engine.label.sources import chelated_parts
from formulas.engine.label.text import as_text
from formulas.engine.problem import BadProblem, Stock
from formulas.engine.result import Share

TRIAZONE = LabelSource("urea-triazone solution", {"N.slow": 1.0})
UREAFORM = LabelSource("ureaform", {"N.insoluble": 1.0})


def label(analysis, *sources, kind="specialty", state=None, **more):
    return draft_label(LabelBasis(analysis, kind, sources, 10.7, 265.0, jurisdiction=state, **more))


def lines(draft):
    return {line.key: line.pct for line in draft.guarantees}


@pytest.mark.parametrize(
    ("slow", "statement"),
    [(2.9, None), (3.0, "3% slowly available nitrogen from urea-triazone solution")],
)
def test_kentucky_allows_the_claim_from_15_percent_of_20(slow, statement):
    # 12 KAR 4:100 section 1: total N 20 %, so 3.0 % slow may be claimed and 2.9 % may not.
    draft = label({"N.urea": 20.0 - slow, "N.slow": slow}, TRIAZONE)
    assert draft.slow_release_statement == statement
    refused = [entry for entry in draft.not_claimed if entry.key == "slow_release"]
    assert [entry.source.split(";")[0] for entry in refused] == (
        [] if statement else ["12 KAR 4:100 section 1"]
    )


def test_7_percent_insoluble_of_15_is_46_67_percent_slow():
    # UF/IFAS Extension Duval County, Jacksonville 20 March 2021: 15-0-15 with 7 % WIN.
    draft = label({"N.ammoniacal": 8.0, "N.insoluble": 7.0, "K2O": 15.0}, UREAFORM)
    assert draft.grade == "15-0-15"
    printed = lines(draft)
    assert share_of_guarantee_pct(printed["N.insoluble"], printed["N"]) == Decimal("46.67")
    names = {line.key: line.label for line in draft.guarantees}
    assert names["N.insoluble"] == "Water Insoluble Nitrogen"


def test_the_organic_example_of_washington_prints_its_insoluble_nitrogen():
    # WAC 16-200-721(4): total N 10 %, 2.5 % organic, water insoluble at least 60 %: 1.5 %.
    insoluble = 10 * 0.25 * 0.60
    draft = label({"N.urea": 10 - insoluble, "N.insoluble": insoluble}, UREAFORM)
    assert str(lines(draft)["N.insoluble"]) == "1.5"
    assert lines(draft)["N"] == 10


def test_a_28_percent_solution_prints_its_three_forms():
    # UAN 28: half urea, a quarter each nitrate and ammoniacal N (IPNI Nutrient Source
    # Specifics, Urea-Ammonium Nitrate).
    draft = label({"N.urea": 14.0, "N.ammoniacal": 7.0, "N.nitrate": 7.0})
    assert as_text(draft).splitlines()[2:6] == [
        "Total Nitrogen (N) ................................. 28%",
        "    7% Ammoniacal Nitrogen",
        "    7% Nitrate Nitrogen",
        "    14% Urea Nitrogen",
    ]


@pytest.mark.parametrize(
    ("state", "kind", "grade"),
    [
        (None, "specialty", "12.3-0-0.5"),
        (None, "commercial", "12-0-0.5"),
        # Idaho Code 22-607(3)(b): nearest tenth or next lower whole number; never up here.
        ("ID", "commercial", "12.3-0-0.5"),
        # Wis. Adm. Code ATCP 40.08(1)(c), 40.10(5): whole numbers, decimals only below 1 %.
        ("WI", "specialty", "12-0-0.5"),
        # COMAR 15.18.03.01B(7): decimals for specialty and for mixed-to-order.
        ("MD", "commercial", "12.3-0-0.5"),
        # N.J.S.A. 4:9-15.3(f), IC 15-16-2-31(g), Tex. Agric. Code 63.001(9): whole numbers.
        ("NJ", "specialty", "12-0-0"),
        ("IN", "specialty", "12-0-0"),
        ("TX", "specialty", "12-0-0"),
        # Va. Code 3.2-3600, N.Y. Agric. & Mkts. 144(a), R.I.G.L. 2-7-3(7), 01-001 CMR 350 1(5).
        ("VA", "specialty", "12.3-0-0.5"),
        ("NY", "specialty", "12.3-0-0.5"),
        ("RI", "specialty", "12.3-0-0.5"),
        ("ME", "specialty", "12.3-0-0.5"),
        ("ME", "commercial", "12-0-0"),
    ],
)
def test_whole_numbers_or_fractions_as_each_state_says(state, kind, grade):
    assert label({"N.urea": 12.39, "K2O": 0.59}, kind=kind, state=state).grade == grade


def test_a_state_without_a_read_rule_is_refused_not_guessed():
    with pytest.raises(BadProblem, match="jurisdiction"):
        label({"N.urea": 12.0}, state="ZZ")


def test_wisconsin_puts_a_zero_before_the_point():
    # Wis. Adm. Code ATCP 40.10(5)(a).
    printed = as_text(label({"N.urea": 20.0, "K2O": 0.59, "Fe": 0.1}, state="WI")).splitlines()
    assert [line.split()[-1] for line in printed[2:6]] == ["20%", "Nitrogen", "0.5%", "0.10%"]


def test_georgia_puts_the_chelated_part_on_the_left_under_its_nutrient():
    # Ga. R. 40-6-5-.01(1)(c): Iron __% / __% Chelated Iron.
    draft = label({"Fe": 1.009, "Mg": 0.75}, chelated={"Fe": 0.509}, water_soluble={"Mg": 0.75})
    assert as_text(draft).splitlines()[2:6] == [
        "Magnesium (Mg) ................................... 0.75%",
        "    0.75% Water Soluble Magnesium",
        "Iron (Fe) ........................................ 1.00%",
        "    0.50% Chelated Iron",
    ]


def test_a_chelated_part_never_exceeds_its_nutrient():
    with pytest.raises(BadProblem, match=r"chelated\.Fe"):
        label({"Fe": 0.2}, chelated={"Fe": 0.3})
    # A part computed from rounded shares may miss its whole by a millionth.
    assert lines(label({"Fe": 0.2}, chelated={"Fe": 0.2000005}))["Fe.chelated"] == Decimal("0.2")
    assert "Fe.chelated" not in lines(label({"Fe": 0.05}, chelated={"Fe": 0.05}))


def test_chelate_stocks_make_the_chelated_part():
    stocks = {
        "CH": Stock("CH", "Chelate", 10.0, 0.0, {"Fe": 4.0}, traits=frozenset({"chelate"})),
        "FS": Stock("FS", "Salt", 10.0, 0.0, {"Fe": 5.0}, traits=frozenset({"unchelated_metal"})),
    }
    assert chelated_parts([Share("CH", 10.0), Share("FS", 10.0)], stocks) == {"Fe": 0.4}


def test_floors_that_do_not_carry_24_print_what_they_carry_and_say_what_would():
    # Shares with endless decimals: 13.71, 6.85 and 3.42 in hundredths are 23.98.
    draft = label({"N.urea": 24 / 7, "N.ammoniacal": 48 / 7, "N.nitrate": 96 / 7})
    printed = lines(draft)
    assert printed.pop("N") == sum(printed.values()) == Decimal("23.9")
    # What is above 23.9 is off the largest quick form.
    assert [f"{pct:f}" for pct in printed.values()] == ["6.85", "13.63", "3.42"]
    (hint,) = draft.hints
    assert (hint.key, hint.more_pct) == ("N", 0.02)
    assert hint.message == (
        "0.02 % more Total Nitrogen (N) in one of its forms would let the label say 24: rounded "
        "down to hundredths, the forms carry 23.98 %. Asking the recipe for 24.03 % is enough."
    )
    # With that much more nitrogen in one form it does.
    roomy = label({"N.urea": 24 / 7, "N.ammoniacal": 48 / 7, "N.nitrate": 96 / 7 + 0.02})
    assert [f"{pct:f}" for pct in lines(roomy).values()] == ["24", "6.85", "13.73", "3.42"]
    assert not roomy.hints


def test_a_wished_total_is_what_a_load_with_room_prints():
    # The worst case of a load holds more than was wished: 24.2 %; sold were 24 %.
    held = {"N.urea": 12.158, "N.slow": 12.071, "P2O5": 0.94, "K2O": 3.164, "Fe": 0.1043}
    draft = label(held, TRIAZONE, promised={"N": 24.0, "K2O": 3.0, "Fe": 0.1})
    assert draft.grade == "24-0.9-3", "phosphate was not wished: the floor of its worst case"
    assert {key: f"{pct:f}" for key, pct in lines(draft).items()} == {
        "N": "24", "N.urea": "11.93", "N.slow": "12.07", "P2O5": "0.9", "K2O": "3", "Fe": "0.10",
    }  # fmt: skip
    assert draft.slow_release_statement.startswith("12.07% slowly available")
    assert draft.hints == ()
    # In a state of whole numbers (Wis. Adm. Code ATCP 40.10(5)) a wished 24.5 prints 24.
    whole = label(held | {"N.urea": 12.6}, TRIAZONE, promised={"N": 24.5, "K2O": 3.0}, state="WI")
    assert whole.grade == "24-0.9-3"
    # A wish above what is there is never printed.
    assert label(held, TRIAZONE, promised={"N": 25.0}).grade == "24.2-0.9-3.1"


def test_a_wished_form_is_not_taken_from_while_another_has_something_above_its_wish():
    held = {"N.nitrate": 14.02, "N.urea": 10.21}
    printed = lines(label(held, promised={"N": 24.0, "N.nitrate": 14.0}))
    assert printed == {"N": 24, "N.nitrate": 14, "N.urea": 10}


def test_a_wish_refused_names_its_key():
    with pytest.raises(BadProblem) as refusal:
        label({"N.urea": 20.0}, promised={"Fe.chelated": 1.0, "N": -1.0})
    assert {e.field for e in refusal.value.errors} == {"promised.Fe.chelated", "promised.N"}


def test_promised_lines_are_the_same_for_a_richer_load_in_every_state():
    lines_of_first = {
        "N": Decimal(24), "N.urea": Decimal("11.93"), "N.slow": Decimal("12.07"),
        "K2O": Decimal(3), "Fe": Decimal("0.10"), "Fe.chelated": Decimal("0.10"),
    }  # fmt: skip
    richer = {"N.urea": 12.9, "N.slow": 12.5, "N.nitrate": 0.4, "K2O": 3.6, "Fe": 0.14, "Zn": 0.06}
    more = {"promised": {"N": 24.0, "K2O": 3.0}, "chelated": {"Fe": 0.13}}
    draft = label(richer, TRIAZONE, lines=lines_of_first, **more)
    assert lines(draft) == lines_of_first
    assert draft.slow_release_statement.startswith("12.07% slowly available")
    assert [item.rule for item in draft.not_claimed] == [
        "Zinc (Zn) is not among the lines promised of this product."
    ]
    assert draft.hints == ()
    # In whole numbers, the forms still add up.
    whole = label(richer, TRIAZONE, lines=lines_of_first | {"N": Decimal("24.5"),
        "N.urea": Decimal("12.43")}, state="WI", **more)  # fmt: skip
    assert lines(whole)["N"] == 24 == lines(whole)["N.urea"] + lines(whole)["N.slow"]
    # A load that holds less than a line never prints it.
    poorer = label(richer | {"Fe": 0.09}, TRIAZONE, lines=lines_of_first)
    assert list(lines(poorer)) == ["N", "N.urea", "N.slow", "K2O"]


def test_a_near_miss_says_how_much_more_would_do():
    hints = label({"N.urea": 23.996, "Zn": 0.048, "Fe": 0.05}).hints
    assert [hint.message for hint in hints] == [
        "0.004 % more Total Nitrogen (N) would let the label say 24.",
        "0.002 % more Zinc (Zn) would reach the 0.05 % it may be guaranteed at.",
    ]


def test_a_form_that_only_noise_keeps_from_a_hundredth_prints_that_hundredth():
    # As a solver leaves it, stated in millionths.
    printed = lines(label({"N.urea": 11.679999, "N.nitrate": 12.320001}))
    assert [str(pct) for pct in printed.values()] == ["24", "12.32", "11.68"]


def test_the_claim_does_not_come_and_go_with_the_rounding_of_the_total():
    # 12 KAR 4:100 asks 15 %: 3.01 of the 20.1 that are there are less, 3.02 are more.
    draft = label({"N.urea": 17.09, "N.slow": 3.0199}, TRIAZONE)
    assert (draft.grade, draft.slow_release_statement) == ("20.1-0-0", None)
    draft = label({"N.urea": 17.09, "N.slow": 3.02}, TRIAZONE)
    assert draft.grade == "20.1-0-0"
    assert draft.slow_release_statement.startswith("3.02% slowly available")
    # 3.0 of a guaranteed 20.0 would be 15 %, but 20.09 are there: a trace more slow nitrogen
    # would make the guarantee 20.1 and the claim impossible, so it is not made at all.
    assert label({"N.urea": 17.0999, "N.slow": 3.0}, TRIAZONE).slow_release_statement is None
    assert label({"N.urea": 17.0999, "N.slow": 3.0102}, TRIAZONE).slow_release_statement is None
    # Of a wished 20 it may be: that total does not move.
    wished = label({"N.urea": 17.0999, "N.slow": 3.0}, TRIAZONE, promised={"N": 20.0})
    assert wished.slow_release_statement.startswith("3% slowly available")


def test_the_footnote_repeats_the_figure_of_the_printed_line():
    draft = label({"N.urea": 12.0, "N.slow": 12.019}, TRIAZONE)
    figure = next(line.printed for line in draft.guarantees if line.key == "N.slow")
    assert figure == "12.01"
    assert draft.slow_release_statement == (
        "12.01% slowly available nitrogen from urea-triazone solution"
    )


def test_utah_asks_fifteen_percent_of_each_slow_component():
    # Utah R68-3-4(3)(a): each slow release component at least 15 %.
    sources = (
        LabelSource("urea-triazone solution", {"N.slow": 4.0}),
        LabelSource("methylene urea", {"N.slow": 1.0}),
    )
    notes = label({"N.urea": 15.0, "N.slow": 5.0}, *sources).notes
    (each,) = [note for note in notes if note.code == "slow_component_share"]
    assert each.message.endswith("methylene urea.")
    alone = label({"N.urea": 15.0, "N.slow": 5.0}, TRIAZONE).notes
    assert "slow_component_share" not in {note.code for note in alone}
    # 10 V.S.A. 1266b(a)(7): water-soluble nitrogen is no slow release in Vermont.
    assert "slow_water_soluble" in {note.code for note in alone}


def test_an_inhibitor_is_named_with_its_source_and_role():
    # University of Kentucky PSS notes: NBPT a urease inhibitor, DCD a nitrification inhibitor.
    draft = label(
        {"N.urea": 20.0, "NBPT": 0.05, "humic_acid": 1.0},
        LabelSource("NBPT", {"NBPT": 0.05}),
        LabelSource("potassium hydroxide", {"humic_acid": 1.0, "K2O": 0.1}),
    )
    assert draft.stabilized_nitrogen_statement.text == (
        "Stabilized nitrogen: contains N-(n-butyl) thiophosphoric triamide (NBPT), "
        "a urease inhibitor."
    )
    assert {item.key: item.sources for item in draft.other_ingredients} == {
        "humic_acid": (),
        "NBPT": ("NBPT",),
    }
    missing = [c.message for c in draft.cautions if c.code == "source_missing"]
    assert any(message.startswith("Humic acid") for message in missing)
    assert label({"NBPT": 0.05}).stabilized_nitrogen_statement is None


@pytest.mark.parametrize(
    ("analysis", "source", "asked"),
    [
        ({"P2O5": 3.0}, "ammonium polyphosphate", True),
        ({"Fe": 0.5}, "ferrous sulfate", True),
        ({"Fe": 0.5}, "iron EDTA", False),
        ({"Cu": 0.5}, "copper sulfate", False),
        ({"N.urea": 20.0}, "urea", False),
    ],
)
def test_california_asks_for_the_metals_statement(analysis, source, asked):
    # CDFA labelling aid, August 2019: phosphate, or Fe, Mn, Zn from an inorganic source.
    draft = label(analysis, LabelSource(source, analysis))
    assert (draft.metals_statement is not None) is asked
    if asked:
        assert "available on the internet at www.aapfco.org/metals.html" in as_text(draft)
        called = label(analysis, LabelSource(source, analysis), metals_contact="1-800-555-0100")
        assert called.metals_statement.text.endswith("by calling 1-800-555-0100")


def test_the_old_door_still_drafts():
    draft = propose(
        {"N.urea": 20.0, "Fe": 0.2},
        kind="specialty",
        sources=(),
        density_lb_per_gal=10.0,
        volume_gal=1.0,
        chelated={"Fe": 0.2},
    )
    assert lines(draft)["Fe.chelated"] == Decimal("0.2")
