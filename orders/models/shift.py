"""What a shift signs and hands over: tanks cleaned, notes, who read them. Written once.

But for what a tablet last said of its unsent weights.
"""

from typing import ClassVar

from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from blendshop.accounts.models import User
from blendshop.immutable import WrittenOnceModel
from orders.models.batch import Batch
from orders.models.idempotent_record import IdempotentRecord
from orders.models.policy import Tank
from orders.models.tank_ledger import TankEntry


class TankCleaning(IdempotentRecord):
    """A person signs that a tank was cleaned: how, and after what.

    What is in the tank stays the ledger's: ``entry`` is what it said last at that moment.
    ``asked`` is what the sequence asked for before the batch ``before``.
    """

    class How(models.TextChoices):
        RINSED = "rinsed", _("rinsed with water")
        FLUSHED = "flushed", _("flushed to approved disposal")
        WASHED = "washed", _("washed from outside with a lance or spray ball")
        LINES = "lines", _("lines, pump and hoses flushed")

    tank = models.ForeignKey(Tank, on_delete=models.PROTECT, related_name="cleanings")
    how = models.CharField(max_length=10, choices=How)
    after = models.CharField("after which product", max_length=200)
    entry = models.ForeignKey(
        TankEntry, null=True, blank=True, on_delete=models.PROTECT, related_name="cleanings"
    )
    before = models.ForeignKey(
        Batch, null=True, blank=True, on_delete=models.PROTECT, related_name="cleanings_before"
    )
    asked = models.TextField(blank=True)
    note = models.CharField(max_length=400, blank=True)

    class Meta(IdempotentRecord.Meta):
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(how__in=["rinsed", "flushed", "washed", "lines"]),
                name="tank_cleaning_way_is_known",
                violation_error_message="Say how the tank was cleaned.",
            ),
            models.CheckConstraint(
                condition=~Q(after="") & ~Q(who=""),
                name="tank_cleaning_is_signed",
                violation_error_message="A cleaning is signed and says after what.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.tank.name}: {self.get_how_display()} after {self.after}"


class HandoverNote(IdempotentRecord):
    """What one shift tells the next."""

    class Shift(models.TextChoices):
        EARLY = "early", _("early shift")
        DAY = "day", _("day shift")
        LATE = "late", _("late shift")
        NIGHT = "night", _("night shift")

    shift = models.CharField(max_length=10, choices=Shift)
    text = models.TextField(max_length=2000)

    class Meta(IdempotentRecord.Meta):
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=~Q(text="") & Q(shift__in=["early", "day", "late", "night"]),
                name="handover_note_says_something",
                violation_error_message="Write what the next shift has to know, and your shift.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_shift_display()}, {self.who}"


class HandoverRead(WrittenOnceModel):
    """Somebody has read a note; once a person."""

    note = models.ForeignKey(HandoverNote, on_delete=models.PROTECT, related_name="reads")
    by = models.ForeignKey(User, null=True, on_delete=models.SET_NULL, related_name="+")
    who = models.CharField(max_length=160)
    at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ("pk",)
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["note", "by"],
                name="handover_read_once_a_person",
                violation_error_message="You have read this note already.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.note}: read by {self.who}"


class UnsentWeights(models.Model):
    """What a tablet last said it still had to send for a batch, of one person's weights.

    The newest word of a tablet and not a history: nobody but the tablet knows what is on it.
    """

    tablet = models.CharField(max_length=64)
    by = models.ForeignKey(User, on_delete=models.CASCADE, related_name="+")
    batch = models.ForeignKey(Batch, on_delete=models.CASCADE, related_name="unsent_weights")
    count = models.PositiveSmallIntegerField()
    seen_at = models.DateTimeField()

    class Meta:
        verbose_name_plural = "unsent weights"
        ordering = ("seen_at", "pk")
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["tablet", "by", "batch"],
                name="unsent_weights_one_word_of_a_tablet",
                violation_error_message="The tablet has said so already.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.by}: {self.count} of {self.batch} unsent"
