"""The lines a label of a blend prints, as they were promised once."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from blendshop.snapshot import Snapshot


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelLines(Snapshot):
    """``LabelPromise.promised``: percent by composition key, with the digits a label prints.

    ``load`` says in words for which load the lines were worked out.
    """

    lines_pct: Mapping[str, Decimal]
    load: str
