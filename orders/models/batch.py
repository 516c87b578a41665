"""Batches: one tank load each, with a plan that never changes once written."""

from collections.abc import Mapping
from typing import Any, ClassVar

from django.db import models
from django.db.models import Q

from blendshop.accounts.models import User
from blendshop.roles import STAFF, has_role
from orders.models.events import Event
from orders.models.order import OrderLine
from orders.models.policy import Tank


class BatchQuerySet(models.QuerySet["Batch"]):
    def visible_to(self, user: User) -> "BatchQuerySet":
        """Batches are the plant's; customers see the papers of their orders, not the batch."""
        return self if has_role(user, *STAFF) else self.none()

    def live(self) -> "BatchQuerySet":
        return self.exclude(status=Batch.Status.CANCELLED)

    def for_list(self) -> "BatchQuerySet":
        return self.select_related(
            "order_line__order__company", "order_line__revision__blend", "tank"
        )


class Batch(models.Model):
    """One tank load of one order line.

    ``plan`` is frozen JSON: scale-ready weights in charging order with running total, expected
    analysis, density and pH window, hazards and cautions of that minute.
    """

    class Status(models.TextChoices):
        PLANNED = "planned", "planned"
        CHARGING = "charging", "being charged"
        MADE = "made", "made"
        HELD = "held", "held"
        RELEASED = "released", "released"
        CANCELLED = "cancelled", "cancelled"

    MOVES: ClassVar[Mapping[str, set[str]]] = {
        # Straight to made: weighed from the printed ticket, no charge written down here.
        Status.PLANNED: {Status.CHARGING, Status.MADE, Status.CANCELLED},
        Status.CHARGING: {Status.MADE, Status.CANCELLED},
        Status.MADE: {Status.CHARGING, Status.HELD, Status.RELEASED, Status.CANCELLED},
        Status.HELD: {Status.CHARGING, Status.RELEASED, Status.CANCELLED},
        Status.RELEASED: set(),
        Status.CANCELLED: set(),
    }

    number = models.CharField(max_length=20, unique=True)
    order_line = models.ForeignKey(OrderLine, on_delete=models.PROTECT, related_name="batches")
    load_number = models.PositiveSmallIntegerField(help_text="This load of so many.")
    load_count = models.PositiveSmallIntegerField()
    tank = models.ForeignKey(Tank, on_delete=models.PROTECT, related_name="+")
    status = models.CharField(max_length=20, choices=Status, default=Status.PLANNED)
    quantity = models.PositiveIntegerField(
        help_text="Packages this load fills; for bulk whole gallons."
    )
    target_gal = models.FloatField()
    target_lb = models.FloatField()
    plan: Any = models.JSONField()
    created_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    created_at = models.DateTimeField(auto_now_add=True)

    objects = BatchQuerySet.as_manager()

    class Meta:
        verbose_name_plural = "batches"
        ordering = ("-created_at", "-pk")
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(target_gal__gt=0, target_lb__gt=0, quantity__gt=0),
                name="batch_target_is_positive",
                violation_error_message="A batch has a size above zero.",
            ),
            models.CheckConstraint(
                condition=Q(
                    status__in=["planned", "charging", "made", "held", "released", "cancelled"]
                ),
                name="batch_status_is_known",
                violation_error_message="This is not a state of a batch.",
            ),
        ]

    def __str__(self) -> str:
        return self.number


class BatchEvent(Event):
    batch = models.ForeignKey(Batch, on_delete=models.CASCADE, related_name="events")
