"""A reviewer may lower a line or drop an optional one, never raise one; every change is kept."""

from decimal import Decimal

import pytest

from formulas.engine.label.guarantee import (
    LabelBasis,
    LabelChange,
    LabelSource,
    draft_label,
    with_changes,
)
from formulas.engine.problem import BadProblem

BASIS = LabelBasis(
    analysis={"N.urea": 12.31, "N.slow": 12.9, "K2O": 3.07, "Fe": 0.2, "humic_acid": 2.0},
    kind="specialty",
    sources=(
        LabelSource("urea-triazone solution", {"N.slow": 12.9, "N.urea": 5.0}),
        LabelSource("potassium acetate", {"K2O": 3.07}),
        LabelSource("iron EDTA", {"Fe": 0.2}),
    ),
    density_lb_per_gal=10.7,
    volume_gal=265.0,
    chelated={"Fe": 0.2},
)


def lines(label):
    return {line.key: line.pct for line in label.guarantees}


def test_a_lower_total_takes_from_the_quick_form_and_is_logged_with_its_reason():
    changed = with_changes(draft_label(BASIS), [LabelChange("N", Decimal(25), "room for assays")])
    assert changed.grade == "25-0-3"
    assert lines(changed)["N.urea"] == Decimal("12.1")
    assert lines(changed)["N.slow"] == Decimal("12.9")
    assert [(e.key, str(e.from_pct), str(e.to_pct), e.reason) for e in changed.changes] == [
        ("N", "25.2", "25", "room for assays"),
        ("N.urea", "12.3", "12.1", "follows from N"),
    ]


def test_a_lower_form_lowers_the_total_and_the_claim():
    changed = with_changes(draft_label(BASIS), [LabelChange("N.slow", Decimal("12.5"))])
    printed = lines(changed)
    assert printed["N"] == printed["N.urea"] + printed["N.slow"] == Decimal("24.8")
    assert changed.slow_release_statement.startswith("12.5% slowly available")


@pytest.mark.parametrize(
    ("change", "field", "said"),
    [
        (LabelChange("N", Decimal("25.3")), "pct", "Total Nitrogen (N) can be lowered, never"),
        (LabelChange("Fe", Decimal("0.3")), "pct", "Iron (Fe) can be lowered, never raised"),
        (LabelChange("Fe.chelated", Decimal("0.21")), "pct", "Chelated Iron can be lowered"),
        (LabelChange("Fe", Decimal("0.05")), "pct", "drop the line instead"),
        (LabelChange("N.urea", None), "pct", "Urea Nitrogen is no optional line"),
        (LabelChange("K2O", None), "pct", "Soluble Potash (K2O) is no optional line"),
        (LabelChange("K2O", Decimal(0)), "pct", "must be above zero"),
        (LabelChange("K2O", Decimal("NaN")), "pct", "must be above zero"),
        (LabelChange("Zn", Decimal("0.05")), "key", "no line Zn"),
        (LabelChange("slow_release", Decimal(3)), "pct", "can only be dropped"),
    ],
)
def test_a_wrong_change_is_refused_and_names_its_line(change, field, said):
    with pytest.raises(BadProblem) as refusal:
        with_changes(draft_label(BASIS), [change])
    (error,) = refusal.value.errors
    assert error.field == f"changes.0.{field}"
    assert said in error.message


def test_a_line_may_be_changed_once_at_a_time():
    twice = [LabelChange("K2O", Decimal(2)), LabelChange("K2O", Decimal(1))]
    with pytest.raises(BadProblem, match="more than once"):
        with_changes(draft_label(BASIS), twice)


def test_a_dropped_line_takes_its_part_and_its_source_with_it():
    changed = with_changes(draft_label(BASIS), [LabelChange("Fe", None, "stains")])
    assert "Fe" not in lines(changed)
    assert "Fe.chelated" not in lines(changed)
    assert "iron EDTA" not in changed.derived_from
    assert not [entry for entry in changed.not_claimed if entry.key == "Fe"]
    assert [(e.key, e.to_pct, e.reason) for e in changed.changes] == [
        ("Fe", None, "stains"),
        ("Fe.chelated", None, "follows from Fe"),
    ]


def test_a_part_follows_its_nutrient_down():
    changed = with_changes(draft_label(BASIS), [LabelChange("Fe", Decimal("0.15"))])
    assert lines(changed)["Fe"] == lines(changed)["Fe.chelated"] == Decimal("0.15")


def test_a_dropped_slow_release_claim_leaves_the_nitrogen_under_its_plain_name():
    changed = with_changes(draft_label(BASIS), [LabelChange("slow_release", None, "no test")])
    assert changed.slow_release_statement is None
    names = {line.key: line.label for line in changed.guarantees}
    assert names["N.slow"] == "Other Water Soluble Nitrogen"
    (entry,) = changed.changes
    assert (entry.key, entry.from_pct, entry.to_pct) == ("slow_release", Decimal("12.9"), None)


def test_changes_add_up_and_may_be_taken_back_to_what_the_analysis_allows():
    once = with_changes(draft_label(BASIS), [LabelChange("N", Decimal(24))])
    twice = with_changes(once, [LabelChange("humic_acid", None)])
    assert twice.grade == "24-0-3"
    assert twice.other_ingredients == ()
    back = with_changes(twice, [LabelChange("N", Decimal("25.2"))])
    assert back.grade == "25.2-0-3"
    assert [entry.key for entry in back.changes] == ["humic_acid"]


def test_a_form_too_small_to_print_does_not_appear_when_another_is_lowered():
    """Finer decimals for what is left would print 0.007 % urea, which the draft did not."""
    sparing = LabelBasis(
        {"N.ammoniacal": 0.625, "N.nitrate": 0.25, "N.urea": 0.0078125}, "specialty", (), 10, 265
    )
    before = draft_label(sparing)
    after = with_changes(before, [LabelChange("N.ammoniacal", Decimal("0.3465"))])
    assert "N.urea" not in lines(before)
    assert lines(after).keys() == lines(before).keys()
    assert sum(pct for key, pct in lines(after).items() if key != "N") == lines(after)["N"]
