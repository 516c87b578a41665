"""What a person must know about a recipe: rules that meet in it, and what is an estimate."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from formulas.engine.blend.choices import rule_is_broken, rule_meets
from formulas.engine.blend.programs import Floats
from formulas.engine.density.basis import density_basis
from formulas.engine.density.solutes import DENSITY_SOURCE
from formulas.engine.problem import CompatibilityRule, Effect, Stock
from formulas.engine.result import Finding, Severity

INFO: Final = Severity.INFO
CAUTION: Final = Severity.CAUTION
STOP: Final = Severity.STOP

#: Of recipes of which nothing is known that is dissolved. Contraction of UAN 32 cut to 28 and 30,
#: computed from the published densities.
_IDEAL_DENSITY: Final = Finding(
    code="density_estimate",
    severity=INFO,
    message=(
        "Density is an estimate by ideal mixing (volumes add); real solutions can differ by "
        "about half a percent. Check it with a hydrometer."
    ),
    source=(
        "computed from Virginia Cooperative Extension SPES-199 and the extension sheet "
        "'Estimated physical characteristics of fertilizer material'"
    ),
)


def recipe_findings(
    stocks: Sequence[Stock],
    pct: Floats,
    rules: Sequence[CompatibilityRule],
    mass_lb: float | None = None,
) -> tuple[Finding, ...]:
    """Findings of a recipe, most severe first; ``pct`` holds one share for each stock.

    With ``mass_lb`` also the charges too small for their scale.
    """
    charged = (pct > 0).nonzero()[0].tolist()
    used = [(stocks[i], share) for i, share in zip(charged, pct[charged].tolist(), strict=True)]
    found = [*_rule_findings(stocks, pct, rules), _density_finding(used)]
    if mass_lb is not None:
        found += _scale_findings(used, mass_lb)
    if len(found) > 1:
        order = (STOP, CAUTION, INFO)
        found.sort(key=lambda finding: order.index(finding.severity))
    return tuple(found)


def _density_finding(used: Sequence[tuple[Stock, float]]) -> Finding:
    """How the density was found, which stocks mix ideally for want of known solutes."""
    if not any(stock.solutes for stock, _ in used):
        return _IDEAL_DENSITY
    basis = density_basis([stock for stock, _ in used], [share for _, share in used])
    told = [
        "Density is an estimate by ideal mixing (volumes add)."
        if basis.is_ideal
        else "Density at 60 °F is an estimate from the volumes of what is dissolved."
    ]
    if basis.ideal:
        names = ", ".join(used[i][0].name for i in basis.ideal)
        told.append(f"By ideal mixing, for want of sound figures of what is dissolved: {names}.")
    if basis.outside:
        names = ", ".join(solute.name for solute in basis.outside)
        told.append(f"Beyond the temperature or strength of the published data: {names}.")
    if basis.estimated:
        names = ", ".join(solute.name for solute in basis.estimated)
        told.append(f"Estimated from other salts: {names}.")
    return Finding(
        code=_IDEAL_DENSITY.code,
        severity=INFO,
        message=" ".join((*told, "Check it with a hydrometer.")),
        source=_IDEAL_DENSITY.source if basis.is_ideal else DENSITY_SOURCE,
    )


def _rule_findings(
    stocks: Sequence[Stock], pct: Floats, rules: Sequence[CompatibilityRule]
) -> Iterator[Finding]:
    for rule in rules:
        if not rule_meets(rule, stocks, pct):
            continue
        a, b = rule.words_a, rule.words_b
        if rule_is_broken(rule, stocks, pct):
            message = f"{_capital(rule.sentence)}: {rule.reason}"
            yield Finding("compatibility", STOP, message, rule.source)
        elif rule.effect is Effect.JAR_TEST:
            message = f"{_capital(a)} meets {b}: {rule.reason} Do a jar test before the batch."
            yield Finding("jar_test", CAUTION, message, rule.source)
        elif rule.effect is Effect.LIMIT:
            message = f"{_capital(rule.sentence)}: {rule.reason}"
            yield Finding("compatibility_limit", INFO, message, rule.source)
        elif rule.effect is Effect.FINE:
            message = f"{_capital(a)} and {b} may be blended: {rule.reason}"
            yield Finding("compatible", INFO, message, rule.source)


def _scale_findings(used: Sequence[tuple[Stock, float]], mass_lb: float) -> Iterator[Finding]:
    for stock, share in used:
        charge_lb = share / 100.0 * mass_lb
        if charge_lb < stock.scale_step_lb:
            message = (
                f"{stock.code}: {charge_lb:.3g} lb is less than one step of its scale "
                f"({stock.scale_step_lb:g} lb)."
            )
            yield Finding("below_scale_step", INFO, message, "follows from the scale step")


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
