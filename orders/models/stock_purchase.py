"""What was ordered of a stock and is on its way, and how much of it the plant has room for."""

from typing import ClassVar

from django.db import models
from django.db.models import Q
from django.utils import timezone
from simple_history.models import HistoricalRecords

from blendshop.accounts.models import User
from formulas.models import BaseStock
from orders.models.pounds import PoundsField
from orders.models.stock import StockLot


class StockPurchaseQuerySet(models.QuerySet["StockPurchase"]):
    def on_the_way(self) -> "StockPurchaseQuerySet":
        """Ordered, neither received nor called off."""
        return self.filter(received_as__isnull=True, called_off_at__isnull=True)


class StockPurchase(models.Model):
    """Pounds of a stock ordered from a supplier; ended by the lot it came as, or called off.

    ``key`` is an idempotency key: a form sent twice writes one purchase.
    """

    stock = models.ForeignKey(BaseStock, on_delete=models.PROTECT, related_name="purchases")
    supplier = models.CharField(max_length=120)
    lb = PoundsField("ordered, lb")
    ordered_on = models.DateField(default=timezone.localdate)
    expected_on = models.DateField("expected on")
    note = models.CharField(max_length=120, blank=True)
    made_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    key = models.CharField(max_length=64, unique=True, editable=False)
    received_as = models.OneToOneField(
        StockLot, null=True, blank=True, on_delete=models.PROTECT, related_name="purchase"
    )
    called_off_at = models.DateTimeField(null=True, blank=True)

    history = HistoricalRecords()

    objects = StockPurchaseQuerySet.as_manager()

    class Meta:
        ordering = ("expected_on", "pk")
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(lb__gt=0),
                name="stock_purchase_is_of_something",
                violation_error_message="Order more than zero pounds.",
            ),
            models.CheckConstraint(
                condition=Q(received_as__isnull=True) | Q(called_off_at__isnull=True),
                name="stock_purchase_ends_once",
                violation_error_message="What was received is not called off.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.stock.code} from {self.supplier}"


class StockStorage(models.Model):
    """How much of a stock the plant has room for, all its tanks and places together."""

    stock = models.OneToOneField(BaseStock, on_delete=models.PROTECT, related_name="storage")
    most_lb = PoundsField("storage takes, lb")

    history = HistoricalRecords()

    class Meta:
        verbose_name_plural = "stock storage"
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(most_lb__gt=0),
                name="stock_storage_takes_something",
                violation_error_message="Storage takes more than zero pounds.",
            ),
        ]

    def __str__(self) -> str:
        return f"storage of {self.stock.code}"
