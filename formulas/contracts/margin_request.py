"""``margin`` of the formulation contract: the chance asked for and the spreads it is asked of.

::

    "margin": {
      "chance": 0.01,                       // largest chance that a guarantee is missed
      "usual_assay": {"strength_rsd_pct": 1.0, "content_rsd_pct": {"N": 0.5}},
      "assay": {"TRZ": {"strength_rsd_pct": 1.5}},
      "scale": {"absolute_lb": 1.0, "relative_pct": 0.1}
    }

The spreads stand in the request, so that a saved wish gives the same recipe whatever the
plant's settings say later. Minima stay the guarantees; the recipe aims above them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from formulas.contracts.strict_json import Node
from formulas.engine.blend.margin_spread import AssaySpread, ScaleSpread, Spreads, spread_errors

#: A chance smaller than one in a million says more than any spread is known to.
_LEAST_CHANCE: Final = 1e-6


@dataclass(frozen=True, slots=True)
class ParsedMargin:
    """A valid ``margin``: the largest chance (a fraction) and the plant's spreads."""

    chance: float
    spreads: Spreads


def read_margin(node: Node) -> ParsedMargin | None:
    """The margin of a request; what is wrong with it is refused under ``margin``."""
    item = node.child("margin")
    if item is None:
        return None
    chance = item.number("chance", required=True)
    if chance is not None and not _LEAST_CHANCE <= chance <= 0.5:
        item.refusals.add(item.at("chance"), f"Must be a fraction from {_LEAST_CHANCE:g} to 0.5.")
    usual = _assay(item.child("usual_assay"))
    by_stock = item.child("assay")
    assay = {} if by_stock is None else {code: _assay(by_stock.child(code)) for code in
                                         by_stock.values}  # fmt: skip
    scale = item.child("scale")
    spreads = Spreads(usual, _scale(scale), assay)
    item.done()
    for error in spread_errors(spreads):
        if not item.refusals.covers(item.at(error.field)):
            item.refusals.add(item.at(error.field), error.message)
    return ParsedMargin(0.5 if chance is None else chance, spreads)


def _assay(node: Node | None) -> AssaySpread:
    if node is None:
        return AssaySpread()
    strength, content = node.number("strength_rsd_pct"), node.numbers("content_rsd_pct")
    node.done()
    return AssaySpread(0.0 if strength is None else strength, content)


def _scale(node: Node | None) -> ScaleSpread:
    if node is None:
        return ScaleSpread()
    absolute, relative = node.number("absolute_lb"), node.number("relative_pct")
    node.done()
    return ScaleSpread(absolute or 0.0, relative or 0.0)
