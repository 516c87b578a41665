"""A label draft as plain lines, in the uniform order.

Percentages of nitrogen forms and other parts stand on the left, indented under their whole
(Mont. Admin. R. 4.12.604; Ga. R. 40-6-5-.01(1)(c)).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Final

from formulas.engine.composition import SLOW_FORMS
from formulas.engine.label.model import Guarantee, LabelDraft, NetContents, Particulars
from formulas.engine.label.rules import PARTICULARS

HEADING: Final = "GUARANTEED ANALYSIS"
#: Heading of Mont. Admin. R. 4.12.604(1)(f).
OTHER_HEADING: Final = "CONTAINS BENEFICIAL SUBSTANCES"
_FOOTNOTE: Final = "*"
_WIDTH: Final = 56


def as_text(draft: LabelDraft, *, net_at_f: float = 68.0) -> str:
    """The printed lines, without name and directions; volumes hold at ``net_at_f`` degrees F."""
    return "\n".join(_lines(draft, net_at_f))


def _lines(draft: LabelDraft, net_at_f: float) -> Iterator[str]:
    yield f"DRAFT for review  {draft.grade}"
    yield HEADING
    has_footnote = draft.slow_release_statement is not None
    for line in draft.guarantees:
        yield _printed(line, has_footnote=has_footnote)
    if draft.derived_from:
        yield f"Derived from: {', '.join(draft.derived_from)}."
    if draft.slow_release_statement:
        yield f"{_FOOTNOTE}{draft.slow_release_statement}."
    if draft.stabilized_nitrogen_statement:
        yield draft.stabilized_nitrogen_statement.text
    if draft.other_ingredients:
        yield OTHER_HEADING
    for item in draft.other_ingredients:
        source = f" (derived from {', '.join(item.sources)})" if item.sources else ""
        yield _leader(f"{item.label}{source}", f"{item.printed}%")
    if draft.metals_statement:
        yield draft.metals_statement.text
    yield from net_lines(draft.net, net_at_f)
    if draft.basis is not None:
        yield from _particulars(draft.basis.particulars)


def _particulars(particulars: Particulars) -> Iterator[str]:
    for name, heading, _ in PARTICULARS:
        if (printed := getattr(particulars, name)) is not None:
            yield f"{heading}: {printed}"


def net_lines(net: NetContents, at_f: float) -> Iterable[str]:
    """Net weight and volume, rounded down, and the density that Oregon asks for.

    ORS 633.321(1)(e).
    """
    printed = net.printed
    yield f"Net weight: {printed['lb']:,} lb ({printed['kg']:,} kg)"
    yield f"Net volume: {printed['gal']:,} gal ({printed['L']:,} L) at {at_f:g} °F"
    yield f"Weight per gallon: {net.lb / net.gal:.2f} lb at {at_f:g} °F"


def _printed(line: Guarantee, *, has_footnote: bool) -> str:
    if line.parent is None:
        return _leader(line.label, f"{line.printed}%")
    mark = _FOOTNOTE if has_footnote and line.key in SLOW_FORMS else ""
    return f"    {line.printed}% {line.label}{mark}"


def _leader(label: str, figure: str) -> str:
    dots = "." * max(3, _WIDTH - len(label) - len(figure) - 2)
    return f"{label} {dots} {figure}"
