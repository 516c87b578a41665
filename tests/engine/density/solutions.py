"""Solutions of one salt, water and UAN, with the densities of the shipped catalogue at 60 F."""

from formulas.engine import Stock


def solution(code, density_lb_per_gal, **percent):
    return Stock(code, code.title(), density_lb_per_gal, 0.2, {}, solutes=percent)


WATER = Stock("WATER", "Water", 8.337, 0.0, {}, traits=frozenset({"water"}))
UAN32 = solution("UAN32", 11.06, urea=34.3, NH4NO3=45.7)
UNKNOWN = Stock("POLY", "Polyphosphate", 11.6, 0.3, {"P2O5": 34.0})
STRONG = [
    solution("KCL138", 9.57, KCl=21.85),
    solution("AMS8", 10.17, **{"(NH4)2SO4": 38.0}),
    solution("KACETATE24", 10.66, CH3COOK=50.0),
    solution("KOH45", 12.15, KOH=45.0),
    solution("KCARB30", 12.25, K2CO3=44.0),
    solution("MGNITRATE", 10.8, **{"Mg(NO3)2": 33.5}),
    solution("MGSULF4", 10.18, MgSO4=20.0),
    solution("PHOSACID75", 13.18, H3PO4=75.0),
    solution("CANITRATE", 11.9, **{"Ca(NO3)2": 45.0}),
    solution("UREA20", 9.36, urea=42.88),
]
