"""How much a customer's people may order before somebody of the plant has looked at it."""

from decimal import Decimal
from typing import ClassVar

from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import Q
from simple_history.models import HistoricalRecords

from blendshop.accounts.models import Company, User


class OrderLimits(models.Model):
    """Limits of one company; empty is no limit of that kind. What is above is a request.

    A company without a row has not been given any yet: all it orders by itself is a request.
    ``confirmed_at`` is empty while the figures are those the plant began with.
    """

    company = models.OneToOneField(Company, on_delete=models.CASCADE, related_name="order_limits")
    most_gal = models.PositiveIntegerField(
        "gallons an order", null=True, blank=True, validators=[MinValueValidator(1)]
    )
    most_total = models.DecimalField(
        "dollars an order",
        max_digits=12,
        decimal_places=2,
        null=True,
        blank=True,
        validators=[MinValueValidator(Decimal(0))],
    )
    most_open = models.DecimalField(
        "dollars of all open orders",
        max_digits=12,
        decimal_places=2,
        null=True,
        blank=True,
        validators=[MinValueValidator(Decimal(0))],
    )
    confirmed_at = models.DateTimeField(null=True, blank=True)
    confirmed_by = models.ForeignKey(
        User, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    history = HistoricalRecords()

    class Meta:
        verbose_name_plural = "order limits"
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(confirmed_at__isnull=True) | Q(confirmed_by__isnull=False),
                name="order_limits_are_confirmed_by_somebody",
                violation_error_message="Somebody confirms the limits.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.company}: limits"
