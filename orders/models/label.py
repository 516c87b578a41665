"""What a person changed on a label draft: one row a change, never edited."""

from typing import ClassVar

from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from blendshop.accounts.models import User
from blendshop.immutable import WrittenOnceModel
from orders.models.batch import BatchPart


class LabelChange(WrittenOnceModel):
    """A line of a label lowered, left out, or put back to what the analysis allows.

    The newest row of a line is in force. ``from_pct`` is what the label said before, None if the
    line was left out; ``to_pct`` is what it says from then on, None if it is left out.
    """

    class Action(models.TextChoices):
        LOWER = "lower", _("lowered")
        DROP = "drop", _("left out")
        RESTORE = "restore", _("put back")

    part = models.ForeignKey(BatchPart, on_delete=models.PROTECT, related_name="label_changes")
    action = models.CharField(max_length=10, choices=Action)
    key = models.CharField(max_length=40)
    label = models.CharField(max_length=80, help_text="The line as it was printed.")
    from_pct = models.DecimalField(max_digits=9, decimal_places=6, null=True)
    to_pct = models.DecimalField(max_digits=9, decimal_places=6, null=True)
    why = models.CharField(max_length=400)
    by = models.ForeignKey(User, null=True, on_delete=models.SET_NULL, related_name="+")
    who = models.CharField(max_length=160)
    at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ("pk",)
        indexes: ClassVar = [models.Index(fields=["at", "id"], name="label_change_by_time")]
        constraints: ClassVar = [
            models.CheckConstraint(
                # A comparison with NULL lets a row pass, so what must be there is asked for first.
                condition=Q(
                    action="lower",
                    from_pct__isnull=False,
                    to_pct__isnull=False,
                    from_pct__gt=F("to_pct"),
                    to_pct__gt=0,
                )
                | Q(action="drop", from_pct__isnull=False, to_pct__isnull=True)
                | Q(action="restore", to_pct__isnull=False, to_pct__gt=0),
                name="label_change_fits_its_action",
                violation_error_message="A guarantee is lowered, left out or put back.",
            ),
            models.CheckConstraint(
                condition=~Q(why=""),
                name="label_change_has_a_reason",
                violation_error_message="Say why the label is changed.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.part} {self.label} {self.get_action_display()}"
