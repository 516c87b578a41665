"""What an open quote still earns at today's costs."""

from collections.abc import Mapping
from typing import Any, ClassVar

from django.db import models

from blendshop.snapshot import StoredIn
from formulas.models import CostState
from orders.frozen.quote_margins import QuoteThenNow
from orders.models.quote import Quote


class QuoteMargin(models.Model):
    """A quote held at its price while costs are those of ``state``; written anew at each change.

    Margins are dollars and percent, in the kind of the customer's policy, over all lines. Where it
    cannot be priced today ``problem`` says why, and nothing else means anything.
    """

    quote = models.OneToOneField(
        Quote, primary_key=True, on_delete=models.CASCADE, related_name="margin_today"
    )
    state = models.ForeignKey(CostState, on_delete=models.PROTECT, related_name="+", db_index=False)
    margin_then = models.DecimalField(max_digits=12, decimal_places=2, default=0)
    margin_now = models.DecimalField(max_digits=12, decimal_places=2, default=0)
    margin_pct_then = models.DecimalField(max_digits=14, decimal_places=4, null=True)
    margin_pct_now = models.DecimalField(max_digits=14, decimal_places=4, null=True)
    floor_pct = models.DecimalField(max_digits=5, decimal_places=2, null=True)
    is_below_floor = models.BooleanField(default=False)
    lines: "models.JSONField[Mapping[str, Any], object]" = models.JSONField(default=dict)
    problem = models.CharField(max_length=400, blank=True)

    then_and_now = StoredIn(QuoteThenNow, "lines")

    class Meta:
        indexes: ClassVar = [
            models.Index(fields=["margin_pct_now", "quote"], name="quote_margin_least_first"),
        ]

    def __str__(self) -> str:
        return f"{self.quote_id}: {self.margin_pct_now} %"
