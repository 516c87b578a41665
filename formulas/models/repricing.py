"""What saved recipes cost today, worked out for all of them at once after a change of costs."""

from __future__ import annotations

from typing import ClassVar, Final

from django.db import models

from formulas.models.blend import BlendRevision

#: Revisions of one ``RecipeBlock``, by their keys.
BLOCK_SIZE: Final = 2_000


class CostState(models.Model):
    """One state of the catalogue on one day, that something was priced at."""

    catalogue = models.CharField(max_length=40, blank=True)
    day = models.DateField()

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["catalogue", "day"],
                name="cost_state_is_known_once",
                violation_error_message="This state of the costs is known already.",
            ),
        ]

    def __str__(self) -> str:
        return f"costs of {self.day}"


class RecipeBlock(models.Model):
    """The shares of the revisions of one range of keys, packed to be read as arrays.

    A copy of what stands in ``RevisionLine``, which is never edited: it is right while it has as
    many ``revisions`` as the range has, and made anew otherwise.
    """

    number = models.PositiveIntegerField(primary_key=True)
    revisions = models.PositiveIntegerField()
    packed = models.BinaryField()

    def __str__(self) -> str:
        return f"recipes {self.number * BLOCK_SIZE} and following"


class RevisionCost(models.Model):
    """What a revision's recipe costs in a state of the costs, dollars to four places.

    None where a stock of it has no cost. ``unavailable`` are the codes of its stocks that are
    retired, short or without a cost, with commas.
    """

    revision = models.OneToOneField(
        BlendRevision, primary_key=True, on_delete=models.CASCADE, related_name="cost_today"
    )
    # Of a hundred thousand rows all but none have the same: an index would only cost.
    state = models.ForeignKey(CostState, on_delete=models.PROTECT, related_name="+", db_index=False)
    cost_per_lb = models.DecimalField(max_digits=12, decimal_places=4, null=True)
    cost_per_gal = models.DecimalField(max_digits=12, decimal_places=4, null=True)
    unavailable = models.CharField(max_length=400, blank=True)

    def __str__(self) -> str:
        return f"{self.revision_id}: {self.cost_per_lb} a pound"


class Repricing(models.Model):
    """All saved blends and open quotes priced anew: what came of it, in one line."""

    state = models.ForeignKey(CostState, on_delete=models.PROTECT, related_name="+")
    finished_at = models.DateTimeField(auto_now_add=True)
    blends = models.PositiveIntegerField()
    quotes = models.PositiveIntegerField()
    quotes_below_floor = models.PositiveIntegerField()

    class Meta:
        ordering = ("-pk",)

    def __str__(self) -> str:
        return f"{self.blends} blends, {self.quotes} quotes"
