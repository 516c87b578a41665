"""What a formulator approved of a label: the words it says, and the rules it rests on."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass, replace
from decimal import Decimal

from blendshop.snapshot import Snapshot


@dataclass(frozen=True, slots=True)
class ApprovedLine(Snapshot):
    """A printed line; ``pct`` carries the digits that are printed, ``key`` the composition key."""

    key: str
    label: str
    pct: Decimal


@dataclass(frozen=True, slots=True)
class LawEntry(Snapshot):
    """A duty or a prescribed sentence of the ship-to's law; the source says if it is unverified."""

    topic: str
    text: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ApprovedLabel(Snapshot):
    """``LabelApproval.label``: what was approved.

    ``only_of`` is the number of the one batch whose weights the lines follow, empty for the label
    of every load. ``metals_open`` are the metals that were not assessed and approved so. None is
    what was not written down when the label went into use before there were approvals.
    ``net_contents`` and ``packs`` are how it stood that day; they differ from load to load and
    from one check of the law to the next, and do not make another label.
    """

    product_name: str
    package: str | None
    grade: str
    lines: tuple[ApprovedLine, ...]
    derived_from: tuple[str, ...]
    other_ingredients: tuple[str, ...] = ()
    statements: tuple[str, ...] = ()
    warnings: tuple[str, ...] | None = None
    grade_rule: str | None = None
    law: tuple[LawEntry, ...] | None = None
    only_of: str = ""
    metals_open: tuple[str, ...] | None = None
    net_contents: str = ""
    packs: tuple[str, ...] = ()

    @property
    def fingerprint(self) -> str:
        """The same for two labels that say the same and rest on the same rules."""
        said = replace(self, metals_open=None, net_contents="", packs=())
        text = json.dumps(said.to_json(), sort_keys=True)
        return hashlib.sha256(text.encode()).hexdigest()
