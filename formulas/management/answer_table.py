"""Answers of the contracts as text for a terminal."""

from collections.abc import Iterable

from formulas.answers.answer import Answer, BlendFigures, Infeasibility, SolvedAnswer
from formulas.answers.spray import SprayAnswer
from formulas.engine.composition import NAMES, NITROGEN_FORMS


def answer_table(answer: Answer) -> str:
    """A formulation's answer, solved or out of reach."""
    if isinstance(answer, SolvedAnswer):
        lines = list(_blend_lines(answer))
        if answer.sensitivity:
            lines += ["", "One more unit of a wish costs, $ per lb of blend"]
            lines += [f"  {cost.wish:<40} {cost.cost_per_unit:>9}" for cost in answer.sensitivity]
    else:
        lines = list(_infeasibility_lines(answer.out_of_reach))
    lines += [f"Left out: {item.reason}" for item in answer.left_out]
    return "\n".join(lines)


def _blend_lines(blend: BlendFigures) -> Iterable[str]:
    totals = blend.totals
    yield f"{'Stock':<12} {'Name':<40} {'%':>9} {'lb':>11} {'gal':>10} {'cost $':>11}"
    for line in blend.recipe:
        yield (
            f"{line.code:<12} {line.name[:40]:<40} {line.pct:>9.3f} {line.lb:>11,.1f} "
            f"{line.gal:>10,.1f} {line.cost!s:>11}"
        )
    yield (
        f"{'Total':<53} {100:>9.3f} {totals.mass_lb:>11,.1f} {totals.volume_gal:>10,.1f} "
        f"{totals.cost!s:>11}"
    )
    yield (
        f"Density {totals.density_lb_per_gal:.3f} lb/gal; "
        f"${totals.cost_per_lb} per lb, ${totals.cost_per_gal} per gal"
    )
    yield ""
    yield "Analysis, percent by weight"
    for key, pct in blend.analysis.items():
        indent = "    " if key in NITROGEN_FORMS else "  "
        yield f"{indent + NAMES[key]:<44} {pct:>9.4f}"
    if blend.slow_release_pct is not None:
        yield f"  {'Slowly available, percent of total N':<42} {blend.slow_release_pct:>9.2f}"
    for notice in blend.warnings:
        yield f"[{notice.severity}] {notice.message} ({notice.source})"


def _infeasibility_lines(found: Infeasibility) -> Iterable[str]:
    yield "Out of reach. These cannot hold together: " + "; ".join(found.conflict)
    for reach in found.reach:
        best = "no value" if reach.best is None else f"{reach.best:g}"
        yield f"  {reach.wish}: with all others kept, the best is {best}"
    for number, alternative in enumerate(found.alternatives, start=1):
        moved = "; ".join(f"{item.wish} becomes {item.to:g}" for item in alternative.relaxed)
        yield ""
        yield f"Instead {number}: {moved}"
        yield from _blend_lines(alternative)


def spray_table(sheet: SprayAnswer) -> str:
    """A spray sheet's answer."""
    lines = [
        f"{words:<42} {figure:>12,.{decimals}f}"
        for words, figure, decimals in _spray_figures(sheet)
        if figure is not None
    ]
    if sheet.cost_per_1000sqft is not None:
        lines.append(f"{'Cost per 1,000 sq ft, $':<42} {sheet.cost_per_1000sqft!s:>12}")
    lines += [f"[{each.severity}] {each.message} ({each.source})" for each in sheet.cautions]
    return "\n".join(lines)


def _spray_figures(sheet: SprayAnswer) -> Iterable[tuple[str, float | None, int]]:
    """Words, figure and decimals, in the order in which a sheet is read."""
    yield "Nitrogen in the product, lb per gal", sheet.n_lb_per_gal, 3
    yield "Nitrogen applied, lb per 1,000 sq ft", sheet.n_lb_per_1000sqft, 3
    yield "  of which readily available", sheet.readily_available_n_lb_per_1000sqft, 3
    yield "  of which slowly available", sheet.slow_n_lb_per_1000sqft, 3
    yield "Product, fl oz per 1,000 sq ft", sheet.product_fl_oz_per_1000sqft, 1
    yield "Product, gal per acre", sheet.product_gal_per_acre, 2
    yield "Spray volume, gal per 1,000 sq ft", sheet.carrier_gal_per_1000sqft, 2
    yield "Product in a tank, gal", sheet.product_per_tank_gal, 1
    yield "Water in a tank, gal", sheet.water_per_tank_gal, 1
    yield "A tank covers, sq ft", sheet.area_per_tank_sqft, 0
    yield "The product on hand covers, acres", sheet.area_on_hand_acres, 2
