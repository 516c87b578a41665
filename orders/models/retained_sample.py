"""What is kept of a batch, and that it was thrown out. Written once."""

from typing import ClassVar

from django.db import models
from django.db.models import Q

from orders.models.batch import Batch
from orders.models.idempotent_record import IdempotentRecord


class RetainedSample(IdempotentRecord):
    """Something of a batch that is kept, where and until when."""

    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="samples")
    taken_at = models.DateTimeField()
    kept_in = models.CharField(max_length=120)
    keep_until = models.DateField()
    note = models.CharField(max_length=400, blank=True)

    class Meta(IdempotentRecord.Meta):
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=~Q(kept_in="") & ~Q(who=""),
                name="retained_sample_is_somewhere",
                violation_error_message="Say where the sample is kept, and who took it.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.batch}: sample in {self.kept_in}"


class SampleDiscarded(IdempotentRecord):
    """The sample is gone, by whom and why."""

    sample = models.OneToOneField(
        RetainedSample, on_delete=models.PROTECT, related_name="discarded"
    )
    why = models.CharField(max_length=400)

    class Meta(IdempotentRecord.Meta):
        verbose_name_plural = "samples discarded"
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=~Q(why=""),
                name="sample_discarded_for_a_reason",
                violation_error_message="Say why the sample is thrown out.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.sample} thrown out"
