"""Less than a batch was promised to be, agreed with its customers."""

from collections.abc import Mapping
from typing import ClassVar

from django.db import models
from django.db.models import Q

from orders.models.idempotent_record import ReasonedRecord


class LoweredPromise(ReasonedRecord):
    """Less than was promised, accepted because nothing can make the tank keep it all.

    The plan stays as it is; the newest of these rows decides what the batch must hold. The
    customers were promised more, so it says who agreed for them.
    """

    batch = models.ForeignKey(
        "orders.Batch", on_delete=models.PROTECT, related_name="lowered_promises"
    )
    grade = models.CharField(max_length=40)
    minima_pct: "models.JSONField[Mapping[str, float], Mapping[str, float]]" = models.JSONField()
    slow_release_min_pct = models.FloatField(null=True, blank=True)
    agreed_with = models.CharField("agreed for the customer by", max_length=200)

    class Meta(ReasonedRecord.Meta):
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=~Q(why="") & ~Q(agreed_with=""),
                name="lowered_promise_is_agreed_for_a_reason",
                violation_error_message="Say why, and who agreed for the customer.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.batch} lowered to {self.grade}"
