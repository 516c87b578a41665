"""The values of a label draft: what is printed, what may not be, what was changed by hand.

Percent by weight of the product. A draft is for review by the label's registrant; it is never
a registered label.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal

from formulas.engine.label.printed_figures import net, text
from formulas.engine.result import Finding


@dataclass(frozen=True, slots=True)
class LabelSource:
    """A source term, what it supplies (percent of the product by key) and its own share.

    ``supplies`` may name total ``N`` or its forms. ``share_pct`` is the weight of the source
    itself in the product, without the water it came in, where known.
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

    @property
    def printed(self) -> str:
        """The figure as the label prints it: ``24``, ``0.10``."""
        return text(self.pct)


@dataclass(frozen=True, slots=True)
class OtherIngredient:
    """An ingredient that is no plant nutrient, in its own block; ``sources`` where named."""

    key: str
    label: str
    pct: Decimal
    sources: tuple[str, ...] = ()

    @property
    def printed(self) -> str:
        """The figure as the label prints it: ``6.00``."""
        return text(self.pct)


@dataclass(frozen=True, slots=True)
class NotClaimed:
    """A content that is there but may not be guaranteed: which rule, from where."""

    key: str
    pct: float
    rule: str
    source: str


@dataclass(frozen=True, slots=True)
class Hint:
    """A little more of ``key`` (``more_pct``, percent of the product) would print ``message``."""

    key: str
    more_pct: float
    message: str


@dataclass(frozen=True, slots=True)
class Statement:
    """A sentence of the label and the rule that asks for it."""

    text: str
    source: str


@dataclass(frozen=True, slots=True)
class NetContents:
    """Net weight and volume, unrounded."""

    lb: float
    kg: float
    gal: float
    L: float

    @property
    def printed(self) -> dict[str, Decimal]:
        """By unit as the label prints it: rounded down."""
        units = {"lb": self.lb, "kg": self.kg, "gal": self.gal, "L": self.L}
        return {unit: net(amount) for unit, amount in units.items()}


@dataclass(frozen=True, slots=True)
class LabelChange:
    """A guarantee lowered to ``pct``, or an optional line dropped (None), and why."""

    key: str
    pct: Decimal | None
    reason: str = ""


@dataclass(frozen=True, slots=True)
class ChangeEntry:
    """What a change did to a printed line; who and when is noted by whoever saves it."""

    key: str
    label: str
    from_pct: Decimal
    to_pct: Decimal | None
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Particulars:
    """What a custom product names beside its analysis, as it is to be printed."""

    lot: str | None = None
    guarantor: str | None = None
    purchaser: str | None = None
    delivered_on: str | None = None


@dataclass(frozen=True, slots=True)
class LabelBasis:
    """Everything a draft follows from.

    ``chelated`` and ``water_soluble`` are parts of the analysis under the same keys.
    ``jurisdiction`` is a code of ``grade_rules.GRADE_RULES``, None for the uniform practice.
    ``metals_contact`` is the web page or telephone number of the metals statement, None for the
    association's page.

    The analysis of a planned load is its worst case, so that every line is true of each load
    weighed on target. ``promised`` are the wished minima by key: a primary nutrient prints what
    was wished of it, chlorine is printed only where it was wished. ``lines`` are the printed lines
    promised of the product already, in percent by the keys of ``Guarantee`` and
    ``OtherIngredient``: no line prints more than there and no other line is added; None for a
    label that follows from the analysis alone.
    """

    analysis: Mapping[str, float]
    kind: str
    sources: tuple[LabelSource, ...]
    density_lb_per_gal: float
    volume_gal: float
    chelated: Mapping[str, float] = field(default_factory=dict)
    water_soluble: Mapping[str, float] = field(default_factory=dict)
    jurisdiction: str | None = None
    metals_contact: str | None = None
    particulars: Particulars = field(default_factory=Particulars)
    promised: Mapping[str, float] = field(default_factory=dict)
    lines: Mapping[str, Decimal] | None = None


@dataclass(frozen=True, slots=True)
class LabelDraft:
    """A label draft; ``guarantees`` in printed order, parts directly after their whole.

    ``notes`` are for the reviewer, ``statements`` are printed. ``changes`` is the log of what
    was lowered or dropped against what the analysis allows, ``asked`` the changes behind it.
    """

    grade: str
    guarantees: tuple[Guarantee, ...]
    slow_release_statement: str | None
    derived_from: tuple[str, ...]
    other_ingredients: tuple[OtherIngredient, ...]
    not_claimed: tuple[NotClaimed, ...]
    net: NetContents
    cautions: tuple[Finding, ...] = ()
    notes: tuple[Finding, ...] = ()
    hints: tuple[Hint, ...] = ()
    stabilized_nitrogen_statement: Statement | None = None
    metals_statement: Statement | None = None
    changes: tuple[ChangeEntry, ...] = ()
    asked: tuple[LabelChange, ...] = ()
    basis: LabelBasis | None = None
    #: Of the product, as the statement says it; None where no slow release is claimed.
    slow_release_claim_pct: Decimal | None = None
