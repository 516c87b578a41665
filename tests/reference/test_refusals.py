"""A wrong fact table is refused on load, naming file, row and key."""

import shutil
from decimal import Decimal
from pathlib import Path

import pytest

import formulas.reference
from formulas.reference import (
    ReferenceDataError,
    base_stocks,
    compatibility_rules,
    demo_costs,
    inspection_fees,
    jar_test,
    traits,
)

SHIPPED = Path(formulas.reference.__file__).parent


@pytest.fixture
def tables(tmp_path):
    for file in SHIPPED.glob("*.toml"):
        shutil.copy(file, tmp_path)
    return tmp_path


def change(path: Path, old: str, new: str) -> None:
    text = path.read_text(encoding="utf-8")
    assert old in text, "the test must change something"
    path.write_text(text.replace(old, new, 1), encoding="utf-8")


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('"N.urea" = {', '"N.organic" = {', "N.organic is not a key of an analysis"),
        ("value = 14.0, mark", "value = nan, mark", "value is not a finite number"),
        ("value = 14.0, mark", "value = 140.0, mark", "outside 0.0 to 100.0"),
        ("value = 14.0, mark", "value = 94.0, mark", "adds up to 108 %"),
        ("value = 14.0, mark", 'value = "14", mark', "value has the wrong type"),
        ("value = 10.67", "value = 0", "outside 6.5 to 16.0"),
        ('source = ["SPES199"], note', "source = [], note", "source is empty"),
        ('source = ["SPES199"], note', 'source = ["HEARSAY"], note', "unknown publication"),
        ('mark = "verified", source = ["SPES199"]', 'source = ["SPES199"]', "mark is missing"),
        ('mark = "verified", source = ["SPES199"]', 'mark = "sure", source = ["SPES199"]', "mark"),
        (
            'mark = "verified", source = ["SPES199"]',
            'mark = "supplier", source = ["SPES199"]',
            "mark is a supplier's sheet",
        ),
        ('"ammonium", "nitrate", "high_salt"]', '"ammonia"]', "is not a known trait: 'ammonia'"),
        ('code = "UAN28"', 'code = "UAN32"', "UAN32 stands twice"),
        ('code = "UAN28"\n', 'code = "UAN28"\ncolour = "clear"\n', "colour is not a known key"),
        ("The supplier's SDS governs.", "Harmless.", "must end by deferring to the SDS"),
        ('per = ["N"]', 'per = ["X"]', "per must name nutrients"),
    ],
)
def test_a_wrong_stock_is_refused_by_name(tables, old, new, said):
    change(tables / "base_stocks.toml", old, new)
    with pytest.raises(ReferenceDataError, match=r"^base_stocks\.toml") as refusal:
        base_stocks(tables)
    assert said in str(refusal.value)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('effect = "limit"', 'effect = "forbids"', "effect is unknown: 'forbids'"),
        ("largest_ratio = 1.0\n", "", "limit, and only limit"),
        ('effect = "limit"', 'effect = "fine"', "limit, and only limit"),
        ('trait_a = "nbpt"', 'trait_a = "inhibitor"', "is not a known trait: 'inhibitor'"),
        ('trait_b = "dcd"', 'trait_b = "acid"', "stands twice"),
        ("reason = ", "why = ", "reason is missing"),
    ],
)
def test_a_wrong_rule_is_refused_by_name(tables, old, new, said):
    change(tables / "compatibility.toml", old, new)
    with pytest.raises(ReferenceDataError, match=r"^compatibility\.toml") as refusal:
        compatibility_rules(tables)
    assert said in str(refusal.value)


@pytest.mark.parametrize(
    ("file", "read", "old", "new"),
    [
        ("demo_costs.toml", demo_costs, 'per = "gal"', 'per = "drum"'),
        ("demo_costs.toml", demo_costs, 'cost = "332.00"', 'cost = "-1"'),
        ("demo_costs.toml", demo_costs, 'cost = "332.00"', 'cost = "NaN"'),
        ("demo_costs.toml", demo_costs, 'stock = "UAN28"', 'stock = "UAN29"'),
        ("inspection_fees.toml", inspection_fees, '"1.00"', '"one"'),
        ("inspection_fees.toml", inspection_fees, 'citation = "', 'quote = "'),
        ("jar_test.toml", jar_test, 'mark = "verified"', 'mark = "surely"'),
        ("traits.toml", traits, 'code = "urea"', 'code = "water"'),
        ("sources.toml", base_stocks, "[sources]", "[sources"),
    ],
)
def test_each_table_refuses_a_wrong_row_in_its_own_name(tables, file, read, old, new):
    change(tables / file, old, new)
    with pytest.raises(ReferenceDataError, match=file.replace(".", r"\.")):
        read(tables)


def test_fees_are_exact_amounts():
    # Florida Statutes 576.041; N.Y. Agriculture and Markets Law 146-c.
    fees = {fee.state: fee for fee in inspection_fees()}
    assert fees["FL"].fee_per_ton == Decimal("1.00")
    assert fees["FL"].minimum is None
    assert (fees["NY"].fee_per_ton, fees["NY"].minimum) == (Decimal("0.10"), Decimal("50.00"))
