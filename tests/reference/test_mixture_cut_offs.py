"""The table of cut-offs: what a wrong row is refused with, and the published figures."""

import shutil
from pathlib import Path

import pytest

import formulas.reference
from formulas.reference import ReferenceDataError
from formulas.reference.mixture_hazards import mixture_table

SHIPPED = Path(formulas.reference.__file__).parent


def test_cut_offs_are_those_of_the_rule():
    # 29 CFR 1910.1200 App. A: Tables A.4.5 and A.7.1, A.3.3, A.6; 49 CFR 171.8 (PP 1 %).
    assert {each.code: each.cut_off_pct for each in mixture_table().classes} == {
        "reproductive_1": 0.1,
        "reproductive_2": 0.1,
        "carcinogen_1": 0.1,
        "skin_sensitizer_1": 0.1,
        "eye_damage_1": 3.0,
        "marine_pollutant": 1.0,
    }
    for each in (*mixture_table().classes, *mixture_table().parts):
        assert each.source.strip()


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('code = "reproductive_2"', 'code = "reproductive_1"', "stands twice"),
        ('signal = "Danger"', 'signal = "Notice"', "is none of"),
        ("adds_up = false", 'adds_up = "no"', "is neither true nor false"),
        ("cut_off_pct = 0.1", "cut_off_pct = 0", "outside"),
        ('classes = ["reproductive_1"]', 'classes = ["dizzy"]', "names dizzy"),
        ('traits = ["uf_condensate"]', 'traits = ["sweet"]', "names sweet"),
        ('key = "B"', 'key = "Unobtainium"', "exactly one"),
        ("most_pct = 0.5\n", 'most_pct = 0.5\nkey = "B"\n', "exactly one"),
        ('supposed = "Only', 'hearsay = "Only', "belongs to most_pct"),
    ],
)
def test_a_wrong_row_is_refused_by_name(tmp_path, old, new, said):
    for path in SHIPPED.glob("*.toml"):
        shutil.copy(path, tmp_path)
    path = tmp_path / "mixture_hazards.toml"
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(ReferenceDataError, match=said):
        mixture_table(tmp_path)
