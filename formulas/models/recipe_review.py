"""What a formulator has said of a recipe before customers order it."""

from django.db import models

from blendshop.accounts.models import User
from blendshop.immutable import WrittenOnceModel
from formulas.models.blend import BlendRevision


class RecipeReview(WrittenOnceModel):
    """A word on a revision; the newest one of it counts.

    ``stands`` is False where a review was taken back. ``carried_from`` is the reviewed revision
    whose recipe was solved again without another stock or caution. ``by`` is None for what nobody
    read: a recipe that had been ordered before reviews existed.
    """

    revision = models.ForeignKey(BlendRevision, on_delete=models.PROTECT, related_name="reviews")
    at = models.DateTimeField(auto_now_add=True)
    by = models.ForeignKey(User, null=True, on_delete=models.PROTECT, related_name="+")
    who = models.CharField(max_length=160)
    note = models.CharField(max_length=400, blank=True)
    stands = models.BooleanField(default=True)
    carried_from = models.ForeignKey(
        BlendRevision, null=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ("-pk",)

    def __str__(self) -> str:
        word = "reviewed" if self.stands else "review taken back"
        return f"{self.revision}: {word} by {self.who}"
