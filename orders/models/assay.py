"""How far stocks and scale scatter: what the margin of a formulation is worked out from."""

from typing import ClassVar, Final

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q
from simple_history.models import HistoricalRecords

from blendshop.figures.readers import house
from blendshop.one_row import OneRowModel
from formulas.engine.mark import Mark
from formulas.models import BaseStock

#: Where nobody has set anything: common practice, no source. A plant's own laboratory knows better.
USUAL_RSD_PCT: Final = 1.0
SCALE_LB: Final = 1.0
SCALE_PCT: Final = 0.1
#: The engine reads no larger relative spread: beyond it a first-order spread says little.
_RSD: Final = [MinValueValidator(0.0), MaxValueValidator(30.0)]


class PlantSpread(OneRowModel):
    """The plant's scale, and the assay spread of stocks without one of their own. One row."""

    usual_rsd_pct = models.FloatField(
        "usual assay spread, %",
        default=USUAL_RSD_PCT,
        validators=_RSD,
        help_text="Standard deviation of a stock's strength, percent of each content.",
    )
    scale_absolute_lb = models.FloatField(
        "scale spread, lb",
        default=SCALE_LB,
        validators=[MinValueValidator(0.0)],
        help_text="Fixed part of one charge's standard deviation.",
    )
    scale_relative_pct = models.FloatField(
        "scale spread, % of the charge", default=SCALE_PCT, validators=_RSD
    )
    source = models.CharField(max_length=200, default=Mark.COMMON_PRACTICE.value)

    history = HistoricalRecords()

    class Meta:
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(pk=1),
                name="plant_spread_is_one_row",
                violation_error_message="There is one set of plant spreads; edit that.",
            ),
            models.CheckConstraint(
                condition=Q(
                    usual_rsd_pct__gte=0,
                    usual_rsd_pct__lte=30,
                    scale_absolute_lb__gte=0,
                    scale_relative_pct__gte=0,
                    scale_relative_pct__lte=30,
                ),
                name="plant_spread_is_in_range",
                violation_error_message="Spreads are from 0 to 30 percent, and 0 lb or more.",
            ),
        ]

    def __str__(self) -> str:
        return f"usual spread {house().significant(self.usual_rsd_pct)} %"

    @classmethod
    def load(cls) -> "PlantSpread":
        """What is set, or the defaults, which say that they have no source."""
        return cls.stored() or cls()


class StockSpread(models.Model):
    """The assay spread of one stock, from its own certificates or the supplier's word."""

    stock = models.OneToOneField(BaseStock, on_delete=models.CASCADE, related_name="spread")
    strength_rsd_pct = models.FloatField(
        "strength, %",
        default=USUAL_RSD_PCT,
        validators=_RSD,
        help_text="All contents together, percent of each (a lot that is too dilute).",
    )
    total_n_rsd_pct = models.FloatField(
        "total nitrogen, %",
        default=0.0,
        validators=_RSD,
        help_text="Total nitrogen on top of the strength, percent of it.",
    )
    source = models.CharField(max_length=200, default=Mark.COMMON_PRACTICE.value)

    history = HistoricalRecords()

    class Meta:
        ordering = ("stock__code",)
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(
                    strength_rsd_pct__gte=0,
                    strength_rsd_pct__lte=30,
                    total_n_rsd_pct__gte=0,
                    total_n_rsd_pct__lte=30,
                ),
                name="stock_spread_is_in_range",
                violation_error_message="Spreads are from 0 to 30 percent.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.stock.code} {house().significant(self.strength_rsd_pct)} %"
