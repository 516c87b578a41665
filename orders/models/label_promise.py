"""What the labels of a blend promise: one set of printed lines for all batches of a revision."""

from collections.abc import Mapping
from typing import Any

from django.db import models
from django.utils import timezone

from blendshop.accounts.models import User
from blendshop.immutable import WrittenOnceModel
from blendshop.snapshot import StoredIn
from formulas.models import BlendRevision
from orders.frozen.label_lines import LabelLines


class LabelPromise(WrittenOnceModel):
    """The printed label lines of a revision, written with its first quote or plan and kept since.

    A label promises the same whoever mixes the batch; a load that cannot keep a line is not
    planned, and other lines take another revision. ``lines`` is the JSON of ``promised``.
    """

    revision = models.OneToOneField(
        BlendRevision, on_delete=models.PROTECT, related_name="label_promise"
    )
    lines: "models.JSONField[Mapping[str, Any], object]" = models.JSONField()
    by = models.ForeignKey(User, null=True, on_delete=models.SET_NULL, related_name="+")
    who = models.CharField(max_length=160)
    at = models.DateTimeField(default=timezone.now)

    promised = StoredIn(LabelLines, "lines")

    class Meta:
        ordering = ("pk",)

    def __str__(self) -> str:
        return f"Label lines of {self.revision}"
