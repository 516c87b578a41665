"""New costs that are looked at before they are in force, and what they would do."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import ClassVar, Final

from django.db import models
from django.db.models import Q

from blendshop.accounts.models import User
from blendshop.long_work.models import LongWork
from blendshop.snapshot import StoredIn
from formulas.models import BaseStock, CostUnit, StockCost
from orders.frozen.better_recipes import BetterRecipes
from orders.models.order import Order
from orders.models.quote import Quote

_UNITS: Final = [(unit.value, unit.label) for unit in CostUnit]


class CostChange(models.Model):
    """A set of new costs under a name; nothing of it holds until somebody puts it in force.

    ``version`` counts its changes, so that what was worked out for an earlier one is known as such.
    """

    name = models.CharField(max_length=120)
    created_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    created_at = models.DateTimeField(auto_now_add=True)
    version = models.PositiveIntegerField(default=1)
    in_force_on = models.DateField(null=True, blank=True)
    put_in_force_by = models.ForeignKey(
        User, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    put_in_force_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ("-pk",)
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(in_force_on__isnull=True, put_in_force_at__isnull=True)
                | Q(in_force_on__isnull=False, put_in_force_at__isnull=False),
                name="cost_change_in_force_says_when",
                violation_error_message="Costs that are in force say from when and since when.",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    def is_in_force(self, today: date) -> bool:
        """Whether the catalogue's costs are these by now."""
        return self.in_force_on is not None and self.in_force_on <= today


class ChangedCost(models.Model):
    """What one stock would cost, and what it cost when that was written down.

    ``by_pct`` is how it was said where somebody asked "what if it rises so much".
    """

    change = models.ForeignKey(CostChange, on_delete=models.CASCADE, related_name="costs")
    stock = models.ForeignKey(BaseStock, on_delete=models.PROTECT, related_name="+")
    amount = models.DecimalField(max_digits=12, decimal_places=4)
    unit = models.CharField(max_length=3, choices=_UNITS)
    by_pct = models.DecimalField(max_digits=6, decimal_places=2, null=True, blank=True)
    was_amount = models.DecimalField(max_digits=12, decimal_places=4, null=True, blank=True)
    was_unit = models.CharField(max_length=3, choices=_UNITS, blank=True)

    class Meta:
        ordering = ("stock__code",)
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["change", "stock"],
                name="changed_cost_names_a_stock_once",
                violation_error_message="This stock stands in the new costs already.",
            ),
            models.CheckConstraint(
                condition=Q(amount__gte=0),
                name="changed_cost_is_not_negative",
                violation_error_message="A cost is not negative.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.stock.code} {self.amount} per {self.unit}"

    def per_lb(self) -> Decimal:
        """Dollars per pound, unrounded."""
        return StockCost(stock=self.stock, amount=self.amount, unit=self.unit).per_lb()

    def was_per_lb(self) -> Decimal | None:
        """The same of the cost before; None without one."""
        if self.was_amount is None:
            return None
        return StockCost(stock=self.stock, amount=self.was_amount, unit=self.was_unit).per_lb()

    @property
    def rise_pct(self) -> Decimal | None:
        """By how much it rises, percent, whatever the units; None without a cost before."""
        was = self.was_per_lb()
        return 100 * (self.per_lb() / was - 1) if was else None


class CostImpact(models.Model):
    """What a version of the new costs does, as it was worked out at one time.

    ``state`` is what it was worked out from (``cost_change.impact_state``). ``blends`` are packed
    rows of those whose cost changes (``cost_change.blend_rows``), by money at stake.
    """

    change = models.ForeignKey(CostChange, on_delete=models.CASCADE, related_name="impacts")
    version = models.PositiveIntegerField()
    state = models.CharField(max_length=200)
    work = models.ForeignKey(LongWork, null=True, on_delete=models.SET_NULL, related_name="+")
    worked_out_at = models.DateTimeField(null=True)
    blends = models.BinaryField(default=bytes)
    blend_count = models.PositiveIntegerField(default=0)
    recipes = models.JSONField(default=dict)

    better_recipes = StoredIn(BetterRecipes, "recipes")

    class Meta:
        ordering = ("-pk",)

    def __str__(self) -> str:
        return f"{self.change}, version {self.version}"


class HeldAtNewCosts(models.Model):
    """A price that was given, held while costs are the new ones; dollars and percent.

    ``lost`` is the margin it earned when it was quoted less what it would earn. Where it cannot be
    priced ``problem`` says why, and nothing else means anything.
    """

    margin_then = models.DecimalField(max_digits=12, decimal_places=2, default=0)
    margin_now = models.DecimalField(max_digits=12, decimal_places=2, default=0)
    margin_pct_then = models.DecimalField(max_digits=14, decimal_places=4, null=True)
    margin_pct_now = models.DecimalField(max_digits=14, decimal_places=4, null=True)
    floor_pct = models.DecimalField(max_digits=5, decimal_places=2, null=True)
    is_below_floor = models.BooleanField(default=False)
    lost = models.DecimalField(max_digits=12, decimal_places=2, default=0)
    problem = models.CharField(max_length=400, blank=True)

    class Meta:
        abstract = True


class QuoteImpact(HeldAtNewCosts):
    """An open quote at new costs."""

    impact = models.ForeignKey(
        CostImpact, on_delete=models.CASCADE, related_name="quotes", db_index=False
    )
    quote = models.ForeignKey(Quote, on_delete=models.CASCADE, related_name="+")

    class Meta:
        indexes: ClassVar = [
            models.Index(fields=["impact", "-lost", "quote"], name="quote_impact_most_first"),
        ]
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["impact", "quote"],
                name="quote_impact_once",
                violation_error_message="The quote is there already.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.quote_id}: {self.margin_pct_now} %"


class OrderImpact(HeldAtNewCosts):
    """An open order at new costs."""

    impact = models.ForeignKey(
        CostImpact, on_delete=models.CASCADE, related_name="orders", db_index=False
    )
    order = models.ForeignKey(Order, on_delete=models.CASCADE, related_name="+")

    class Meta:
        indexes: ClassVar = [
            models.Index(fields=["impact", "-lost", "order"], name="order_impact_most_first"),
        ]
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["impact", "order"],
                name="order_impact_once",
                violation_error_message="The order is there already.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.order_id}: {self.margin_pct_now} %"
