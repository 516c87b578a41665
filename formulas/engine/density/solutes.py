"""Apparent volumes of dissolved salts and urea, and the density of water.

For an electrolyte at ``t`` degrees C in a solution whose dissolved share (all solutes together,
0 to 1 by weight) is ``s``, in m3/kg::

    v = (s + c2 + c3 t) / ((c0 s + c1) exp(1e-6 (t + c4)^2))

Formula and coefficients: Laliberte and Cooper 2004, J. Chem. Eng. Data 49:1141-1151, and
Laliberte 2009, J. Chem. Eng. Data 54:1725-1760 (doi 10.1021/je8008123), as tabled in the open
Python package ``chemicals`` 1.5.2: verified there. The 2004 paper's mixtures (1,600 points) are
met with a mean error of 0.003 kg/m3 and a standard deviation of 1.39 by taking every ``v`` at
the **total** dissolved share. Water: Kell 1975, J. Chem. Eng. Data 20:97-105, equation 16.

The table stands here and not among the fact tables because the engine reads no files and needs
it below every density. Where a figure is doubtful its row says so in ``note``.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from formulas.engine.mark import Mark

LALIBERTE: Final = "Laliberté 2009, J. Chem. Eng. Data 54:1725, coefficients"
DENSITY_SOURCE: Final = (
    "Laliberté and Cooper 2004, J. Chem. Eng. Data 49:1141; Laliberté 2009, 54:1725; water: Kell"
    " 1975, 20:97; urea: Gucker, Gage and Moser 1938, J. Am. Chem. Soc. 60:2582"
)
#: A fit whose denominator vanishes at a share below this runs away beyond its data: its value at
#: the largest fitted share is held. The others follow the published rule, which grows slowly.
_POLE_BELOW: Final = 2.5


@dataclass(frozen=True, slots=True)
class Fit:
    """The fitted volume of one electrolyte, with the range of its data.

    ``lowest_c`` to ``highest_c`` in degrees C, ``largest_pct`` by weight of the solution.
    """

    c0: float
    c1: float
    c2: float
    c3: float
    c4: float
    lowest_c: float
    highest_c: float
    largest_pct: float

    def l_per_kg(self, dissolved: float, temp_c: float) -> float:
        """Volume of a dissolved kg, L."""
        s = self._share(dissolved)
        return (s + self._offset(temp_c)) / (self.c0 * s + self.c1) * self._scale(temp_c)

    def l_per_kg_per_share(self, dissolved: float, temp_c: float) -> float:
        """How the volume grows with the dissolved share: its derivative."""
        if self._share(dissolved) < dissolved:
            return 0.0
        numerator = self.c1 - self.c0 * self._offset(temp_c)
        return numerator / (self.c0 * dissolved + self.c1) ** 2 * self._scale(temp_c)

    def _share(self, dissolved: float) -> float:
        runs_away = self.c0 * self.c1 < 0 and -self.c1 / self.c0 < _POLE_BELOW
        return min(dissolved, self.largest_pct / 100.0) if runs_away else dissolved

    def _offset(self, temp_c: float) -> float:
        return self.c2 + self.c3 * temp_c

    def _scale(self, temp_c: float) -> float:
        return 1000.0 / math.exp(1e-6 * (temp_c + self.c4) ** 2)


@dataclass(frozen=True, slots=True)
class Term:
    """So many times a fit; at ``at_c`` whatever the temperature, if that is given."""

    times: float
    fit: Fit
    at_c: float | None = None

    def temperature_c(self, temp_c: float) -> float:
        """The temperature this term is taken at when the solution is at ``temp_c``."""
        return temp_c if self.at_c is None else self.at_c


@dataclass(frozen=True, slots=True)
class Solute:
    """One dissolved substance, anhydrous: its volume is the sum of the terms and of a constant.

    ``formula`` is its chemical formula as fact tables write it. ``constant`` is in L/kg at
    ``REFERENCE_C`` and grows by ``constant_per_c`` per degree C. The data reach from ``lowest_c``
    to ``highest_c`` and to ``largest_pct`` by weight.
    """

    key: str
    name: str
    formula: str
    source: str
    mark: Mark
    lowest_c: float
    highest_c: float
    largest_pct: float
    terms: tuple[Term, ...] = ()
    constant: float = 0.0
    constant_per_c: float = 0.0
    note: str = ""

    def l_per_kg(self, dissolved: float, temp_c: float) -> float:
        """Apparent volume of a kg at a total dissolved share (0 to 1), L."""
        return (
            self.constant
            + self.constant_per_c * (temp_c - REFERENCE_C)
            + sum(
                term.times * term.fit.l_per_kg(dissolved, term.temperature_c(temp_c))
                for term in self.terms
            )
        )

    def l_per_kg_per_share(self, dissolved: float, temp_c: float) -> float:
        """The derivative of the volume by the total dissolved share."""
        return sum(
            term.times * term.fit.l_per_kg_per_share(dissolved, term.temperature_c(temp_c))
            for term in self.terms
        )

    def is_fitted_at(self, temp_c: float) -> bool:
        """Whether the data behind the figure reach this temperature, to half a degree."""
        return self.lowest_c - 0.5 <= temp_c <= self.highest_c + 0.5


#: 60 F. Every density of a blend is stated at this temperature.
REFERENCE_C: Final = (60.0 - 32.0) / 1.8

#: c0 to c4, lowest and highest C, largest percent.
_FITS: Final[Mapping[str, Fit]] = {
    "(NH4)2SO4": Fit(618.2408, 966.1281, 0.6027062, 0.001627903, 667.5734, 15, 55, 42.9),
    "NH4NO3": Fit(1412.563, 1214.076, 0.7050713, 0.001177609, 107.0818, 25, 95, 78.7),
    "NH4Cl": Fit(16.88822, 318.5603, 5.086556, -0.01506165, -1769.122, 12.5, 100, 40.0),
    "KCl": Fit(-0.8559289, 6.040736, 2.817874, 0.02539246, 2681.617, 5, 125, 26.4),
    "K2CO3": Fit(2290.109, 1038.774, 0.1097693, 0.0004977833, -74.07869, 5, 95, 36.1),
    "KHCO3": Fit(0.04584793, 0.07491278, 0.5057669, 0.006439519, 3163.652, 5, 95, 34.4),
    "KOH": Fit(821.119, 1043.202, 0.1128733, 0.001240236, 539.6304, 4, 95, 51.9),
    "KNO3": Fit(1.490687, 6.672924, 1.471507, 0.01558727, 2539.227, 5, 95, 28.4),
    "K2SO4": Fit(7.105994e-6, 4.655587e-5, 0.3495668, 0.007510536, 4200.094, 0, 98, 15.2),
    "KH2PO4": Fit(0.1751271, 0.05838011, 0.1701945, 0.003234401, 3062.751, 20, 40, 23.2),
    "K2HPO4": Fit(0.01021016, 0.4771736, 0.2720686, 0.0018411, 2889.865, 25, 25, 18.1),
    "CH3COOK": Fit(-12939.12, 69601.65, 116.5993, 0.3826326, 1096.809, 15, 55, 59.5),
    "HCOOK": Fit(436.7444, 2573.315, 1.995558, 0.006177047, 781.3162, 15, 55, 67.8),
    "Ca(NO3)2": Fit(57.33634, 538.0543, 1.000087, 0.007202314, 1438.414, 25, 60, 76.8),
    "CaCl2": Fit(-9.728937, 14.70054, 4.190333, 0.03974036, 2708.128, 15, 127, 51.3),
    "Mg(NO3)2": Fit(0.9678149, 5.540434, 1.103747, 0.01233408, 2589.619, 5, 95, 43.9),
    "MgSO4": Fit(98.12017, 59.26576, -0.0303405, 0.0005036192, 1763.759, 0, 125, 26.8),
    "MgCl2": Fit(-0.02150014, 0.04412021, 1.532276, -0.009807851, -3478.365, 0, 98, 32.4),
    "H3PO4": Fit(1288.255, -4126.675, -4.646826, 0.00466168, -944.4597, 16, 81, 85.0),
    "MnSO4": Fit(0.01644402, 0.004087049, -0.1106395, 0.001929795, 3484.636, 20, 25, 36.4),
    "ZnSO4": Fit(19.39983, 36.98106, -0.08876578, 0.001068931, 2058.602, 15, 60, 36.8),
    "CuSO4": Fit(-1.120783e-6, 6.068506e-7, -0.1188632, 0.003780501, 4763.961, 10, 60, 28.4),
    "FeSO4": Fit(-0.2247197, 0.1211404, 0.7357245, -0.02186484, 3325.113, 15, 25, 23.3),
    "Na2MoO4": Fit(-2.08132, 4.844613, 4.43423, -0.02081503, -2942.264, 25, 80, 35.0),
    "NaNO3": Fit(22.34993, 66.44787, 0.9898883, 0.009471651, 1971.551, 0, 100, 48.9),
    "Na2S2O3": Fit(-1.382699, 889.5468, 0.6989359, 0.004203495, 1191.731, 25, 80, 60.0),
}

_NAMES: Final[Mapping[str, str]] = {
    "(NH4)2SO4": "ammonium sulfate", "NH4NO3": "ammonium nitrate", "NH4Cl": "ammonium chloride",
    "KCl": "potassium chloride", "K2CO3": "potassium carbonate",
    "KHCO3": "potassium bicarbonate", "KOH": "potassium hydroxide", "KNO3": "potassium nitrate",
    "K2SO4": "potassium sulfate", "KH2PO4": "monopotassium phosphate",
    "K2HPO4": "dipotassium phosphate", "CH3COOK": "potassium acetate",
    "HCOOK": "potassium formate", "Ca(NO3)2": "calcium nitrate", "CaCl2": "calcium chloride",
    "Mg(NO3)2": "magnesium nitrate", "MgSO4": "magnesium sulfate", "MgCl2": "magnesium chloride",
    "H3PO4": "phosphoric acid", "MnSO4": "manganese sulfate", "ZnSO4": "zinc sulfate",
    "CuSO4": "copper sulfate", "Na2MoO4": "sodium molybdate", "NaNO3": "sodium nitrate",
    "Na2S2O3": "sodium thiosulfate",
}  # fmt: skip
#: Where the formula is written otherwise than the key.
_FORMULAS: Final[Mapping[str, str]] = {"NH4NO3": "(NH4)(NO3)", "CH3COOK": "C2H3KO2"}
_NOTES: Final[Mapping[str, str]] = {
    "K2CO3": (
        "Against handbook figures remembered for 20 C low by 0.4 % at 20 to 30 % and 1.1 % high at"
        " 50 %: a strong stock rests on its own certificate."
    ),
    "K2HPO4": "Data at 25 C and up to 18 % only: a stronger stock mixes ideally.",
}


def _electrolyte(key: str) -> Solute:
    fit = _FITS[key]
    return Solute(
        key=key,
        name=_NAMES[key],
        formula=_FORMULAS.get(key, key),
        source=LALIBERTE,
        mark=Mark.VERIFIED,
        lowest_c=fit.lowest_c,
        highest_c=fit.highest_c,
        largest_pct=fit.largest_pct,
        terms=(Term(1.0, fit),),
        note=_NOTES.get(key, ""),
    )


#: The fit of ferrous sulfate rises with temperature, which is wrong: it is taken at 20 C, where
#: its data are, and moved in temperature as manganese sulfate moves.
_FERROUS: Final = Solute(
    key="FeSO4",
    name="ferrous sulfate",
    formula="FeSO4",
    source=LALIBERTE,
    mark=Mark.COMPUTED,
    lowest_c=15.0,
    highest_c=25.0,
    largest_pct=23.3,
    terms=(
        Term(1.0, _FITS["FeSO4"], at_c=20.0),
        Term(1.0, _FITS["MnSO4"]),
        Term(-1.0, _FITS["MnSO4"], at_c=20.0),
    ),
    note="The published fit at 20 C, moved in temperature as manganese sulfate.",
)

#: Urea: apparent volume 44.5 to 45.3 cm3/mol from 10 to 50 % at 25 C (Gucker, Gage and Moser
#: 1938, J. Am. Chem. Soc. 60:2582-2588, doi 10.1021/ja01278a008, by a quadratic fitted to their
#: data), that is 0.741 to 0.755 cm3/g: 0.745 for blends. Its growth is our own difference between
#: that curve at 25 C and the ISO 22241 band at 20 C.
_UREA: Final = Solute(
    key="urea",
    name="urea",
    formula="CH4N2O",
    source="Gucker, Gage and Moser 1938, J. Am. Chem. Soc. 60:2582, one volume for 10 to 50 %",
    mark=Mark.COMPUTED,
    lowest_c=15.0,
    highest_c=30.0,
    largest_pct=50.0,
    constant=0.745,
    constant_per_c=0.0005,
)


def _thiosulfate(
    key: str, name: str, molar_mass_g: float, nitrate: str, nitrate_g: float
) -> Solute:
    """No data are published: sodium thiosulfate with its sodium exchanged as between nitrates."""
    sodium_thiosulfate, sodium_nitrate = _FITS["Na2S2O3"], _FITS["NaNO3"]
    return Solute(
        key=key,
        name=name,
        formula=key,
        source=(
            "sodium thiosulfate and twice the difference between two nitrates, molar volumes of "
            + LALIBERTE
        ),
        mark=Mark.COMPUTED,
        lowest_c=25.0,
        highest_c=80.0,
        largest_pct=60.0,
        terms=(
            Term(158.108 / molar_mass_g, sodium_thiosulfate),
            Term(2 * nitrate_g / molar_mass_g, _FITS[nitrate]),
            Term(-2 * 84.9947 / molar_mass_g, sodium_nitrate),
        ),
        note="An estimate, uncertain by 2 % at full strength; the certificate carries it.",
    )


#: Molar masses, g: PyPI ``molmass``.
SOLUTES: Final[Mapping[str, Solute]] = {
    solute.key: solute
    for solute in (
        _UREA,
        *(_electrolyte(key) for key in _NAMES),
        _FERROUS,
        _thiosulfate("K2S2O3", "potassium thiosulfate", 190.325, "KNO3", 101.1032),
        _thiosulfate("(NH4)2S2O3", "ammonium thiosulfate", 148.205, "NH4NO3", 80.0434),
    )
}


def solute_of(formula: str) -> Solute | None:
    """The solute of a chemical formula as a fact table writes it; None if there is no figure."""
    return next((solute for solute in SOLUTES.values() if solute.formula == formula), None)


def water_kg_per_l(temp_c: float) -> float:
    """Density of water from 0 to 100 C, Kell 1975, equation 16.

    >>> from formulas.engine.units import KG_PER_LB, L_PER_GAL
    >>> round(water_kg_per_l(REFERENCE_C) * L_PER_GAL / KG_PER_LB, 4)
    8.3372
    """
    t = temp_c
    polynomial = (
        999.83952
        + 16.945176 * t
        - 7.9870401e-3 * t**2
        - 4.6170461e-5 * t**3
        + 1.0556302e-7 * t**4
        - 2.8054253e-10 * t**5
    )
    return polynomial / (1 + 0.01687985 * t) / 1000.0
