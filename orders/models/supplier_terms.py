"""What a supplier asks of whoever buys a stock: how long it takes, how little, in what steps."""

from decimal import Decimal
from typing import ClassVar

from django.core.validators import MaxValueValidator
from django.db import models
from django.db.models import Q
from simple_history.models import HistoricalRecords

from formulas.models import BaseStock
from orders.models.pounds import PoundsField


class SupplierTerms(models.Model):
    """Terms of one supplier for one stock; of several the preferred one is bought from.

    The figures are the office's own, as the supplier says them.
    """

    stock = models.ForeignKey(BaseStock, on_delete=models.PROTECT, related_name="supplier_terms")
    supplier = models.CharField(max_length=120)
    lead_days = models.PositiveSmallIntegerField(
        "days from order to delivery",
        validators=[MaxValueValidator(365)],
        help_text="Calendar days, as the supplier says.",
    )
    least_order_lb = PoundsField("least order, lb", default=0)
    pack_lb = PoundsField(
        "sold in steps of, lb", help_text="A tote, a drum, a ton in bulk: what it is sold in."
    )
    preferred = models.BooleanField(default=True, help_text="Bought from unless said otherwise.")
    price_note = models.CharField(max_length=120, blank=True)

    history = HistoricalRecords()

    class Meta:
        verbose_name_plural = "supplier terms"
        ordering = ("stock__code", "-preferred", "pk")
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["stock", "supplier"],
                name="supplier_terms_are_one_a_stock_and_supplier",
                violation_error_message="This supplier's terms for the stock are there already.",
            ),
            models.UniqueConstraint(
                fields=["stock"],
                condition=Q(preferred=True),
                name="supplier_terms_prefer_one_supplier",
                violation_error_message="Another supplier of the stock is the preferred one.",
            ),
            models.CheckConstraint(
                condition=Q(least_order_lb__gte=0, pack_lb__gt=0),
                name="supplier_terms_sell_something",
                violation_error_message=(
                    "The least order is not negative, and a step is above zero pounds."
                ),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.stock.code} from {self.supplier}"

    def packs_for(self, lb: Decimal) -> int:
        """Whole steps that hold ``lb`` and are not below the least order."""
        packs, left_over = divmod(max(lb, self.least_order_lb), self.pack_lb)
        return int(packs) + bool(left_over)
