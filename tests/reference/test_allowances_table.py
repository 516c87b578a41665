"""The allowances table is refused by name where it is wrong."""

import shutil
from pathlib import Path

import pytest

import formulas.reference
from formulas.reference import ReferenceDataError
from formulas.reference.allowances import allowance_rules

SHIPPED = Path(formulas.reference.__file__).parent / "allowances.toml"


def refused(tmp_path, old, new):
    path = tmp_path / "allowances.toml"
    shutil.copy(SHIPPED, path)
    text = path.read_text(encoding="utf-8")
    assert old in text, "the test must change something"
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(ReferenceDataError, match=r"^allowances\.toml") as refusal:
        allowance_rules(tmp_path)
    return str(refusal.value)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("[5.0, 0.51", "[3.0, 0.51", "must ascend by guarantee"),
        ("[5.0, 0.51, 0.67, 0.43]", "[5.0, 0.51, 0.67]", "three allowances each"),
        ("[5.0, 0.51", '[5.0, "0.51"', "not a percentage"),
        ("[grid]", "[gird]", "holds no [grid]"),
        ('keys = ["B"]', 'keys = ["Zn"]', "stands twice: 'Zn'"),
        ('keys = ["B"]', 'keys = ["N"]', "has no allowance of this kind"),
        ("units = 0.003", "units = -0.003", "outside"),
        ('mark = "verified"', 'mark = "sure"', "mark is unknown"),
        ('code = "PA"', 'code = "VA"', "stands twice: 'VA'"),
        ("K2O = 0.41", "K = 0.41", "K2O is missing"),
        ("index_floor_pct = 98.0", "index_floor_pct = 0.98", "outside"),
    ],
)
def test_a_wrong_allowance_is_refused_by_name(tmp_path, old, new, said):
    assert said in refused(tmp_path, old, new)


def test_every_allowance_names_its_source():
    for rule in allowance_rules().values():
        assert rule.index_source
        assert all(allowance.source for allowance in rule.allowances.values())
