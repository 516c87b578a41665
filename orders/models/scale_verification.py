"""Scales verified with known loads. Written once."""

from collections.abc import Mapping
from typing import Any, ClassVar

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from blendshop.snapshot import StoredIn
from formulas.engine.plant.load import ScaleKind
from orders.frozen.scale_test import ScaleTest
from orders.models.idempotent_record import IdempotentRecord
from orders.models.policy import Tank


class ScaleVerification(IdempotentRecord):
    """Known loads put on one of a tank's scales; ``loads`` is the JSON of ``test``.

    ``checked_at`` is when it was done, ``at`` when it was written down. The newest by
    ``checked_at`` holds.
    """

    class Scale(models.TextChoices):
        MAIN = ScaleKind.MAIN.value, _("main scale")
        FINE = ScaleKind.FINE.value, _("small scale")

    tank = models.ForeignKey(Tank, on_delete=models.PROTECT, related_name="scale_verifications")
    scale = models.CharField(max_length=4, choices=Scale)
    checked_at = models.DateTimeField()
    weights = models.CharField("test weights", max_length=200)
    loads: "models.JSONField[Mapping[str, Any], object]" = models.JSONField()
    passed = models.BooleanField()
    note = models.CharField(max_length=400, blank=True)

    test = StoredIn(ScaleTest, "loads")

    class Meta(IdempotentRecord.Meta):
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(scale__in=["main", "fine"]),
                name="scale_verification_scale_is_known",
                violation_error_message="A tank has a main scale and perhaps a small one.",
            ),
            models.CheckConstraint(
                condition=~Q(weights="") & ~Q(who=""),
                name="scale_verification_names_weights_and_person",
                violation_error_message="Say with which test weights, and who.",
            ),
        ]
        indexes: ClassVar = [
            models.Index(fields=["tank", "scale", "-checked_at"], name="scale_verification_newest")
        ]

    def __str__(self) -> str:
        return (
            f"{self.tank.name}, {self.get_scale_display()}: {'passed' if self.passed else 'failed'}"
        )
