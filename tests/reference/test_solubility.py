"""The solubility table is complete, agrees with what is published, and is refused by name."""

import shutil
from pathlib import Path

import pytest
from molmass import Formula

import formulas.reference
from formulas.engine.storage.cold_storage import solubility_g
from formulas.reference import ReferenceDataError
from formulas.reference.solubility import salts, water_pct

HERE = Path(formulas.reference.__file__).parent


def read_all(directory):
    salts(directory)
    water_pct(directory)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("ions = { K = 1, NO3 = 1 }", "ions = { K = 1, Tl = 1 }", "Tl is not a screened ion"),
        ("ions = { K = 1, NO3 = 1 }", "ions = { K = 1.5, NO3 = 1 }", "not a whole number"),
        ("ions = { K = 1, NO3 = 1 }", "ions = {}", "ions is empty"),
        ("g_per_100g = 20.9", "g_per_100g = 10.9", "must rise"),
        ("c = 10.0, g_per_100g = 20.9", "c = 60.5, g_per_100g = 20.9", "must rise"),
        ('code = "KCl"', 'code = "KNO3"', "stands twice"),
        ('["NO3", "NH4"]', '["Tl"]', "names Tl"),
        ('mark = "verified", source = ["SOLUBILITY"]', 'mark = "verified", source = ["X"]', "'X'"),
        ('code = "WATER"', 'code = "UAN99"', "is not a base stock"),
        ('code = "WATER"', 'code = "UAN28"', "follows from made_of"),
        ("[not_water]", "[solvent]", "holds no [not_water]"),
        ("value = 101.103", "value = -1", "outside"),
    ],
)
def test_a_wrong_table_is_refused_by_name(tmp_path, old, new, said):
    for path in HERE.glob("*.toml"):
        shutil.copy(path, tmp_path)
    path = tmp_path / "solubility.toml"
    text = path.read_text(encoding="utf-8")
    assert old in text, "the test must change something"
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(ReferenceDataError, match=r"^solubility\.toml") as refusal:
        read_all(tmp_path)
    assert said in str(refusal.value)


def test_a_single_point_is_no_table(tmp_path):
    for path in HERE.glob("*.toml"):
        shutil.copy(path, tmp_path)
    path = tmp_path / "solubility.toml"
    text = path.read_text(encoding="utf-8")
    start, end = text.index("points = [\n"), text.index("]\n", text.index("110.0"))
    first = text.index("},\n", start) + 3
    path.write_text(text[:first] + text[end:], encoding="utf-8")
    with pytest.raises(ReferenceDataError, match="at least two points"):
        salts(tmp_path)


@pytest.mark.parametrize(
    ("code", "formula"),
    [("KNO3", "KNO3"), ("KCl", "KCl"), ("K2SO4", "K2SO4"), ("urea", "CH4N2O")],
)
def test_molar_masses_are_those_of_the_formulas(code, formula):
    (salt,) = [salt for salt in salts() if salt.code == code]
    assert salt.molar_mass_g == pytest.approx(Formula(formula).mass, abs=0.01)


def test_potassium_chloride_agrees_with_the_pitzer_model():
    # PHREEQC pitzer.dat: 30.6, 34.1 and 35.7 g per 100 g at 10, 20 and 25 C.
    (kcl,) = [salt for salt in salts() if salt.code == "KCl"]
    for temperature, pitzer in ((10, 30.6), (20, 34.1), (25, 35.7)):
        assert solubility_g(kcl, temperature) == pytest.approx(pitzer, rel=0.021)


def test_the_water_of_a_stock_is_what_its_solutes_leave():
    water = water_pct()
    assert water["WATER"] == 100
    assert water["UAN28"] == pytest.approx(30.0)  # 30 % urea and 40 % ammonium nitrate
    assert water["UAN32"] == 20  # 35 % urea and 45 % ammonium nitrate
    assert water["UREA20"] == pytest.approx(57.12)
    assert "TRIAZONE28" not in water
    assert "DCD20" not in water
