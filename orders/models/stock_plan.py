"""A plan of scarce stock that a person accepted, and the recipes it gave to order lines."""

from typing import Any, ClassVar

from django.db import models
from django.db.models import Q
from django.utils import timezone

from blendshop.accounts.models import User
from blendshop.immutable import WrittenOnceModel
from formulas.models import BlendRevision
from orders.models.order import OrderLine


class AcceptedStockPlan(WrittenOnceModel):
    """What was shown when somebody accepted it; ``digest`` is the SHA-256 of ``shown``."""

    number = models.CharField(max_length=20, unique=True)
    digest = models.CharField(max_length=64)
    shown: Any = models.JSONField()
    by = models.ForeignKey(User, null=True, on_delete=models.SET_NULL, related_name="+")
    who = models.CharField(max_length=160)
    at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ("-pk",)

    def __str__(self) -> str:
        return self.number


class PlannedRecipe(WrittenOnceModel):
    """The revision by which an order line is made, where that is not the accepted one.

    The line itself, its price and what the customer accepted are never edited: the newest of
    these rows decides for batches that are planned from now on, the line's own revision where
    there is none. A row that names the line's own revision takes an earlier one back.
    """

    order_line = models.ForeignKey(
        OrderLine, on_delete=models.PROTECT, related_name="planned_recipes"
    )
    revision = models.ForeignKey(BlendRevision, on_delete=models.PROTECT, related_name="+")
    plan = models.ForeignKey(
        AcceptedStockPlan,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="planned_recipes",
    )
    why = models.CharField(max_length=400)
    by = models.ForeignKey(User, null=True, on_delete=models.SET_NULL, related_name="+")
    who = models.CharField(max_length=160)
    at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ("pk",)
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=~Q(why=""),
                name="planned_recipe_has_a_reason",
                violation_error_message="Say why the line is made by another recipe.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.order_line} made by {self.revision}"
