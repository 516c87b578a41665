"""The metals table is complete and refused by name where it is wrong."""

import shutil
from pathlib import Path

import pytest

import formulas.reference
from formulas.engine.label.metals import METALS
from formulas.reference import ReferenceDataError
from formulas.reference.metals import metal_rules, yearly_metal_rule

SHIPPED = Path(formulas.reference.__file__).parent / "metals.toml"


def _read_all(directory):
    metal_rules(directory)
    yearly_metal_rule(directory)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("As = 13.0", "Tl = 13.0", "Tl is not a screened metal"),
        ("As = 13.0", "As = -13.0", "outside"),
        ('code = "CA"', 'code = "uniform"', "stands twice"),
        ('["Co", "Mo", "Zn"]', '["Co", "Tl"]', "names Tl"),
        ('exempt_mark = "from memory, unverified"\n', "", "exempt_mark is missing"),
        ("As = 0.297", 'As = "0.297"', "wrong type"),
        ("[washington]", "[oregon]", "citation is missing"),
    ],
)
def test_a_wrong_metals_table_is_refused_by_name(tmp_path, old, new, said):
    path = tmp_path / "metals.toml"
    shutil.copy(SHIPPED, path)
    text = path.read_text(encoding="utf-8")
    assert old in text, "the test must change something"
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(ReferenceDataError, match=r"^metals\.toml") as refusal:
        _read_all(tmp_path)
    assert said in str(refusal.value)


def test_the_uniform_rule_and_washington_cover_every_metal():
    uniform = metal_rules()["uniform"]
    assert set(uniform.per_pct_p2o5) == set(uniform.per_pct_micronutrients) == set(METALS)
    assert set(yearly_metal_rule().lb_per_acre) == set(METALS)
