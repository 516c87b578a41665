"""The guaranteed analysis: what may be printed of an analysis, always rounded down.

Zeros never appear; secondary and micronutrients appear from their minimum upward; slow release
is claimed only from 15 percent of total nitrogen upward and only with its source named. A draft
for review by the label's registrant, never a registered label.

Nitrogen. The printed forms must add up to the printed total (Florida 5E-1.003(1)(b)). Total N is
rounded down to its own decimals; each form is rounded down to hundredths; what the forms then
hold above the total is taken from the largest quick form. Only where rounding every form down
would lose part of a total that the analysis does hold, the forms that lost most get one
hundredth back: such a form may stand less than 0.01 above its analysis, quick forms first, while
the total never does.

Noise. Contents within ``NOISE_PCT`` below a printable value count as that value, so that
23.9999999999 prints 24 as 24.0000000001 does; above it nothing is rounded up.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import ROUND_FLOOR, Decimal
from typing import Final

from formulas.engine.composition import (
    NITROGEN_FORMS,
    OTHER_INGREDIENTS,
    SLOW_FORMS,
    WISH_KEYS,
    content_pct,
)
from formulas.engine.label_rules import (
    FORM_DECIMALS,
    GRADE_SOURCE,
    LABELS,
    MINIMUM_SOURCE,
    MINIMUMS,
    OTHER_DECIMALS,
    PRIMARY,
    PRIMARY_DECIMALS,
    SLOW_SHARE_PCT,
    SLOW_SOURCE,
    SLOW_SOURCE_TERMS,
    UNCLAIMED_SLOW_LABEL,
    WARNING_ABOVE_PCT,
    WARNING_SOURCE,
    ZERO_SOURCE,
    Kind,
)
from formulas.engine.problem import BadProblem, FieldError, Fill, Stock
from formulas.engine.result import Finding
from formulas.engine.units import KG_PER_LB, L_PER_GAL
from formulas.engine.validate import fill_errors, stock_errors

NOISE_PCT: Final = 1e-6
_HUNDREDTHS: Final = 10**FORM_DECIMALS


@dataclass(frozen=True, slots=True)
class LabelSource:
    """A source term, what it supplies (percent of the product by key) and its own share.

    ``supplies`` may name total ``N`` or its forms. ``share_pct`` is the weight of the source in
    the product, where known.
    """

    name: str
    supplies: Mapping[str, float]
    share_pct: float | None = None


@dataclass(frozen=True, slots=True)
class Guarantee:
    """One printed line, with the digits it prints; ``parent`` is the key it is indented under."""

    key: str
    label: str
    pct: Decimal
    parent: str | None = None


@dataclass(frozen=True, slots=True)
class OtherIngredient:
    """An ingredient that is no plant nutrient, printed in its own block."""

    key: str
    label: str
    pct: Decimal


@dataclass(frozen=True, slots=True)
class NotClaimed:
    """A content that is there but may not be guaranteed: which rule, from where."""

    key: str
    pct: float
    rule: str
    source: str


@dataclass(frozen=True, slots=True)
class NetContents:
    """Net weight and volume, unrounded."""

    lb: float
    kg: float
    gal: float
    L: float


@dataclass(frozen=True, slots=True)
class LabelDraft:
    """A label draft; ``guarantees`` in printed order, forms directly after total nitrogen."""

    grade: str
    guarantees: tuple[Guarantee, ...]
    slow_release_statement: str | None
    derived_from: tuple[str, ...]
    other_ingredients: tuple[OtherIngredient, ...]
    not_claimed: tuple[NotClaimed, ...]
    net: NetContents
    cautions: tuple[Finding, ...] = ()


def propose(
    analysis: Mapping[str, float],
    *,
    kind: str,
    sources: Sequence[LabelSource],
    density_lb_per_gal: float,
    volume_gal: float,
) -> LabelDraft:
    """Draft the label of one product; raises ``BadProblem`` naming every wrong field.

    >>> draft = propose({"N.urea": 7.84, "N.slow": 20.16}, kind="specialty",
    ...     sources=[LabelSource("urea-triazone solution", {"N": 28.0})],
    ...     density_lb_per_gal=10.7, volume_gal=265.0)
    >>> draft.grade, draft.slow_release_statement
    ('28-0-0', '20.16% slowly available nitrogen from urea-triazone solution')
    """
    _refuse(analysis, kind, sources, density_lb_per_gal, volume_gal)
    primary = {key: _primary(content_pct(analysis, key), Kind(kind)) for key in PRIMARY}
    forms = _printed_forms(analysis, primary["N"])
    slow_names = _slow_source_names(sources)
    claims_slow = bool(slow_names) and _is_slow_release(forms, primary["N"])
    guarantees = _guarantees(analysis, primary, forms, claims_slow=claims_slow)
    printed = {guarantee.key for guarantee in guarantees}
    mass_lb = volume_gal * density_lb_per_gal
    return LabelDraft(
        grade="-".join(f"{_trimmed(primary[key]):f}" for key in PRIMARY),
        guarantees=guarantees,
        slow_release_statement=(
            f"{_trimmed(_slow_sum(forms)):f}% slowly available nitrogen from "
            + ", ".join(slow_names)
            if claims_slow
            else None
        ),
        derived_from=_derived_from(sources, printed),
        other_ingredients=tuple(_other_ingredients(analysis)),
        not_claimed=(
            *_unclaimed_contents(analysis, printed, Kind(kind)),
            *_unclaimed_slow(analysis, forms, primary["N"], slow_names),
        ),
        net=NetContents(mass_lb, mass_lb * KG_PER_LB, volume_gal, volume_gal * L_PER_GAL),
        cautions=tuple(_cautions(guarantees, sources)),
    )


def _floored(pct: float, decimals: int) -> Decimal:
    """The content rounded down, noise aside."""
    return Decimal(pct + NOISE_PCT).quantize(Decimal(1).scaleb(-decimals), rounding=ROUND_FLOOR)


def _trimmed(pct: Decimal) -> Decimal:
    """Without trailing zeros after the point: 24.00 is 24, 6.70 is 6.7, 20 stays 20."""
    return pct.quantize(Decimal(1)) if pct == pct.to_integral_value() else pct.normalize()


def _primary(pct: float, kind: Kind) -> Decimal:
    """Specialty to tenths; commercial to whole numbers, tenths only below 1 (ATCP 40.10(5))."""
    whole = kind is Kind.COMMERCIAL and pct + NOISE_PCT >= 1
    return _floored(pct, 0 if whole else PRIMARY_DECIMALS)


def _printed_forms(analysis: Mapping[str, float], total: Decimal) -> dict[str, Decimal]:
    """Nitrogen forms in hundredths that add up to ``total``; see the module's text."""
    if total == 0:
        return {}
    exact = {form: analysis.get(form, 0.0) * _HUNDREDTHS for form in NITROGEN_FORMS}
    units = {
        form: int(_floored(analysis.get(form, 0.0), FORM_DECIMALS) * _HUNDREDTHS)
        for form in NITROGEN_FORMS
    }
    missing = int(total * _HUNDREDTHS) - sum(units.values())
    lost = {form: exact[form] - units[form] for form in NITROGEN_FORMS}
    most_lost = sorted(
        NITROGEN_FORMS,
        key=lambda form: (lost[form] < NOISE_PCT, form in SLOW_FORMS, -lost[form]),
    )
    for form in most_lost[: max(0, missing)]:
        units[form] += 1
    excess = max(0, -missing)
    for form in sorted(NITROGEN_FORMS, key=lambda form: (form in SLOW_FORMS, -units[form])):
        taken = min(excess, max(0, units[form] - 1))
        units[form] -= taken
        excess -= taken
    return {form: Decimal(n) / _HUNDREDTHS for form, n in units.items() if n > 0}


def _slow_sum(forms: Mapping[str, Decimal]) -> Decimal:
    return sum((forms.get(form, Decimal(0)) for form in SLOW_FORMS), Decimal(0))


def _is_slow_release(forms: Mapping[str, Decimal], total: Decimal) -> bool:
    return total > 0 and _slow_sum(forms) * 100 >= SLOW_SHARE_PCT * total


def _guarantees(
    analysis: Mapping[str, float],
    primary: Mapping[str, Decimal],
    forms: Mapping[str, Decimal],
    *,
    claims_slow: bool,
) -> tuple[Guarantee, ...]:
    lines: list[Guarantee] = []
    for key in PRIMARY:
        if primary[key] > 0:
            lines.append(Guarantee(key, LABELS[key], _trimmed(primary[key])))
        if key == "N":
            for form, pct in forms.items():
                plain = form == "N.slow" and not claims_slow
                label = UNCLAIMED_SLOW_LABEL if plain else LABELS[form]
                lines.append(Guarantee(form, label, _trimmed(pct), parent="N"))
    for key, minimum in MINIMUMS.items():
        pct = _floored(analysis.get(key, 0.0), minimum.decimals)
        if analysis.get(key, 0.0) + NOISE_PCT >= minimum.pct:
            lines.append(Guarantee(key, LABELS[key], _trimmed(pct)))
    return tuple(lines)


def _unclaimed_contents(
    analysis: Mapping[str, float], printed: set[str], kind: Kind
) -> Iterable[NotClaimed]:
    for key in PRIMARY:
        pct = content_pct(analysis, key)
        if pct > 0 and key not in printed:
            rule = f"{LABELS[key]} rounds down to zero; a zero is never guaranteed."
            yield NotClaimed(key, pct, rule, f"{ZERO_SOURCE}; {GRADE_SOURCE[kind]}")
    for key, minimum in MINIMUMS.items():
        if (pct := analysis.get(key, 0.0)) > 0 and key not in printed:
            rule = f"{LABELS[key]} is guaranteed from {minimum.pct:g} % upward."
            yield NotClaimed(key, pct, rule, MINIMUM_SOURCE)
    for key in OTHER_INGREDIENTS:
        pct = analysis.get(key, 0.0)
        if pct > 0 and _floored(pct, OTHER_DECIMALS[key]) == 0:
            rule = f"{LABELS[key]} rounds down to zero; a zero is never printed."
            yield NotClaimed(key, pct, rule, ZERO_SOURCE)


def _unclaimed_slow(
    analysis: Mapping[str, float],
    forms: Mapping[str, Decimal],
    total: Decimal,
    slow_names: Sequence[str],
) -> Iterable[NotClaimed]:
    pct = sum(content_pct(analysis, form) for form in SLOW_FORMS)
    if pct <= 0:
        return
    if not _is_slow_release(forms, total):
        rule = f"Slow release needs at least {SLOW_SHARE_PCT} % of the guaranteed total nitrogen."
        yield NotClaimed("slow_release", pct, rule, SLOW_SOURCE)
    elif not slow_names:
        rule = "The source of the slowly available nitrogen must be identified."
        yield NotClaimed("slow_release", pct, rule, SLOW_SOURCE)


def _other_ingredients(analysis: Mapping[str, float]) -> Iterable[OtherIngredient]:
    for key in OTHER_INGREDIENTS:
        pct = _floored(analysis.get(key, 0.0), OTHER_DECIMALS[key])
        if pct > 0:
            yield OtherIngredient(key, LABELS[key], _trimmed(pct))


def _supplied(source: LabelSource) -> dict[str, float]:
    """What a source supplies by guaranteed key, its nitrogen forms counted as ``N``."""
    supplied: dict[str, float] = {}
    for key, pct in source.supplies.items():
        whole = "N" if key in NITROGEN_FORMS else key
        supplied[whole] = supplied.get(whole, 0.0) + pct
    return supplied


def _derived_from(sources: Sequence[LabelSource], printed: set[str]) -> tuple[str, ...]:
    """Sources of what is guaranteed, once each, by weight where known, else by contribution."""
    weighed = all(source.share_pct is not None for source in sources)
    sizes: dict[str, float] = {}
    names: dict[str, str] = {}
    for source in sources:
        useful = sum(pct for key, pct in _supplied(source).items() if key in printed)
        if useful > 0:
            key = source.name.strip().casefold()
            names.setdefault(key, source.name.strip())
            size = source.share_pct if weighed and source.share_pct is not None else useful
            sizes[key] = sizes.get(key, 0.0) + size
    return tuple(names[key] for key in sorted(sizes, key=lambda key: -sizes[key]))


def _slow_source_names(sources: Sequence[LabelSource]) -> tuple[str, ...]:
    """Recognised slow-release terms among the nitrogen sources, else those said to supply it."""
    said = [s for s in sources if any(s.supplies.get(form, 0.0) > 0 for form in SLOW_FORMS)]
    candidates = said or [s for s in sources if _supplied(s).get("N", 0.0) > 0]
    recognised = [
        s for s in candidates if any(term in s.name.casefold() for term in SLOW_SOURCE_TERMS)
    ]
    return _derived_from(recognised or said, {"N"})


def _cautions(guarantees: Sequence[Guarantee], sources: Sequence[LabelSource]) -> Iterable[Finding]:
    supplied = {key for source in sources for key, pct in _supplied(source).items() if pct > 0}
    for line in guarantees:
        if line.parent is None and line.key not in supplied:
            yield Finding(
                "source_missing",
                "caution",
                f"{line.label} is guaranteed, but no source of it is named.",
                "Oregon ORS 633.321(1)(g); Idaho Code 22-607(1)(f)",
            )
        if line.pct > Decimal(str(WARNING_ABOVE_PCT.get(line.key, 100.0))):
            yield Finding(
                "label_warning",
                "caution",
                f"{line.label} above {WARNING_ABOVE_PCT[line.key]:g} %: a warning statement may "
                "be required.",
                WARNING_SOURCE,
            )


def _refuse(
    analysis: Mapping[str, float],
    kind: str,
    sources: Sequence[LabelSource],
    density_lb_per_gal: float,
    volume_gal: float,
) -> None:
    product = Stock("product", "Product", density_lb_per_gal, 0.0, analysis)
    errors = [
        FieldError(error.field.removeprefix("stocks.0."), error.message)
        for error in stock_errors((product,))
    ]
    errors += [
        FieldError(error.field.removeprefix("fill."), error.message)
        for error in fill_errors(Fill(volume_gal=volume_gal))
    ]
    if kind not in set(Kind):
        errors.append(FieldError("kind", f"Must be one of {', '.join(Kind)}."))
    for index, source in enumerate(sources):
        if not source.name.strip():
            errors.append(FieldError(f"sources.{index}.name", "A source needs a name."))
        errors += [
            FieldError(f"sources.{index}.supplies.{key}", "Must be a percentage, 0 to 100.")
            for key, pct in source.supplies.items()
            if key not in WISH_KEYS or not 0 <= pct <= 100
        ]
        if source.share_pct is not None and not 0 <= source.share_pct <= 100:
            errors.append(
                FieldError(f"sources.{index}.share_pct", "Must be a percentage, 0 to 100.")
            )
    if errors:
        raise BadProblem(tuple(errors))
