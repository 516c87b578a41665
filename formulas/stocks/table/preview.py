"""What an upload would do as it is kept for looking at: its changes or its errors, and a digest."""

from __future__ import annotations

from dataclasses import dataclass

from blendshop.snapshot import Snapshot
from formulas.stocks.cost_moves import CostMove, large_among, sure_words
from formulas.stocks.table.plan import Change, LineError, Outcome, Plan


@dataclass(frozen=True, slots=True, kw_only=True)
class UploadPreview(Snapshot):
    """``changes`` and ``errors`` by line of the file; ``digest`` is what a yes refers to.

    ``moves`` are the costs that move far, confirmed with ``sure_of``.
    """

    digest: str
    new: int
    changed: int
    unchanged: int
    changes: tuple[Change, ...]
    errors: tuple[LineError, ...]
    moves: tuple[CostMove, ...] = ()

    @property
    def sure_of(self) -> str:
        """What a yes to the large moves refers to."""
        return sure_words(self.moves)

    @property
    def is_idle(self) -> bool:
        """Whether there is nothing to confirm."""
        return not self.errors and self.new == self.changed == 0


def preview_of(plan: Plan, *, with_unchanged: bool = True) -> UploadPreview:
    """The preview of a plan, with or without the lines that change nothing."""
    return UploadPreview(
        digest=plan.digest,
        **plan.counts,
        changes=tuple(
            change
            for change in plan.changes
            if with_unchanged or change.outcome is not Outcome.UNCHANGED
        ),
        errors=plan.errors,
        moves=large_among(plan.cost_moves),
    )
