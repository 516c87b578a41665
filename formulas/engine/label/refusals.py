"""Refuse a label request that cannot be right, naming every field."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from formulas.engine.composition import WISH_KEYS
from formulas.engine.label.grade_rules import GRADE_RULES
from formulas.engine.label.model import LabelBasis
from formulas.engine.label.printed_figures import PRECISION_PCT
from formulas.engine.label.rules import CHELATED, WATER_SOLUBLE, Kind
from formulas.engine.problem import BadProblem, FieldError, Fill, Stock
from formulas.engine.validate import fill_errors, stock_errors


def refuse(basis: LabelBasis) -> None:
    """Raise ``BadProblem`` with one error for every wrong field; else return."""
    product = Stock("product", "Product", basis.density_lb_per_gal, 0.0, basis.analysis)
    errors = [
        FieldError(error.field.removeprefix("stocks.0."), error.message)
        for error in stock_errors((product,))
    ]
    errors += [
        FieldError(error.field.removeprefix("fill."), error.message)
        for error in fill_errors(Fill(volume_gal=basis.volume_gal))
    ]
    if basis.kind not in set(Kind):
        errors.append(FieldError("kind", f"Must be one of {', '.join(Kind)}."))
    if basis.jurisdiction is not None and basis.jurisdiction not in GRADE_RULES:
        known = ", ".join(GRADE_RULES)
        errors.append(FieldError("jurisdiction", f"Rules were read for {known} only."))
    errors += _source_errors(basis)
    errors += _wish_errors(basis)
    errors += _part_errors("chelated", basis.chelated, CHELATED, basis.analysis)
    errors += _part_errors("water_soluble", basis.water_soluble, WATER_SOLUBLE, basis.analysis)
    if errors:
        raise BadProblem(tuple(errors))


def _source_errors(basis: LabelBasis) -> Iterable[FieldError]:
    for index, source in enumerate(basis.sources):
        if not source.name.strip():
            yield FieldError(f"sources.{index}.name", "A source needs a name.")
        for key, pct in source.supplies.items():
            path = f"sources.{index}.supplies.{key}"
            if key not in WISH_KEYS:
                yield FieldError(path, f"{key} is not a known nutrient or ingredient.")
            elif not 0 <= pct <= 100:
                yield FieldError(path, "Must be a percentage, 0 to 100.")
        if source.share_pct is not None and not 0 <= source.share_pct <= 100:
            yield FieldError(f"sources.{index}.share_pct", "Must be a percentage, 0 to 100.")


def _wish_errors(basis: LabelBasis) -> Iterable[FieldError]:
    for key, pct in basis.promised.items():
        if key not in WISH_KEYS:
            yield FieldError(f"promised.{key}", f"{key} is not a known nutrient or ingredient.")
        elif not 0 <= pct <= 100:
            yield FieldError(f"promised.{key}", "Must be a percentage, 0 to 100.")


def _part_errors(
    name: str, parts: Mapping[str, float], allowed: Mapping[str, str], whole: Mapping[str, float]
) -> Iterable[FieldError]:
    for key, pct in parts.items():
        if key not in allowed:
            yield FieldError(f"{name}.{key}", f"Only {', '.join(allowed)} can have such a part.")
        elif not 0 <= pct <= 100:
            yield FieldError(f"{name}.{key}", "Must be a percentage, 0 to 100.")
        elif pct > whole.get(key, 0.0) + PRECISION_PCT:
            yield FieldError(
                f"{name}.{key}", f"Is more than the {whole.get(key, 0.0):g} % of the analysis."
            )
