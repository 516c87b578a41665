"""Base stocks: what they hold, how they behave, where every figure comes from."""

from datetime import date
from decimal import Decimal
from typing import Any, ClassVar, Final

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Exists, F, OuterRef, Prefetch, Q, Subquery
from simple_history.models import HistoricalRecords

from blendshop.figures.readers import house
from blendshop.immutable import WrittenOnceModel
from formulas.engine import units
from formulas.engine.composition import ANALYSIS_KEYS, NAMES
from formulas.engine.density.reference_temperature import REFERENCE_F, density_at_60_f
from formulas.engine.label.metals import METALS
from formulas.engine.mark import Mark
from formulas.models.solute_list import check_solutes, read_solutes
from formulas.reference.facts import CostUnit

#: A density brought to another temperature is no more exact than this.
DENSITY_PLACES: Final = 4
MARK_CHOICES: Final = [(mark.value, mark.label) for mark in Mark]


class Trait(models.Model):
    """A property that decides what may meet what, such as "calcium" or "strong_acid"."""

    code = models.SlugField(max_length=40, unique=True)
    name = models.CharField(max_length=80)
    description = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ("code",)

    def __str__(self) -> str:
        return self.name


class BaseStockQuerySet(models.QuerySet["BaseStock"]):
    def active(self) -> "BaseStockQuerySet":
        """Stocks that may go into a new blend."""
        return self.filter(retired_on__isnull=True)

    def available(self) -> "BaseStockQuerySet":
        """Active and not marked as short."""
        return self.active().filter(short=False)

    def on_offer(self, day: date) -> "BaseStockQuerySet":
        """What a new blend may take on a day: available, with a cost."""
        costs = StockCost.objects.filter(stock=OuterRef("pk"), effective_from__lte=day)
        return self.available().filter(Exists(costs))

    def for_engine(self) -> "BaseStockQuerySet":
        """With everything the engine needs, in three queries however many stocks."""
        return self.prefetch_related("analysis_figures", "traits", "costs").order_by("code")

    def for_engine_on(self, day: date) -> "BaseStockQuerySet":
        """The same for one day: of years of costs the one in force, of figures no sources."""
        return self.prefetch_related(*self.lookups_on(day)).order_by("code")

    def lookups_on(self, day: date) -> "tuple[str | Prefetch[str], ...]":
        """What ``for_engine_on`` reads beside the stocks."""
        entries = StockCost.objects.filter(stock=OuterRef("pk"), effective_from__lte=day)
        newest = entries.order_by("-effective_from", "-pk").values("pk")[:1]
        in_force = BaseStock.objects.order_by().annotate(newest=Subquery(newest)).values("newest")
        return (
            Prefetch("analysis_figures", AnalysisFigure.objects.only("stock", "key", "pct")),
            "traits",
            Prefetch("costs", StockCost.objects.filter(pk__in=in_force)),
        )

    def with_metals(self) -> "BaseStockQuerySet":
        """With the heavy metals, in one query more."""
        return self.prefetch_related("metal_figures")


def stocks_named(stocks: models.QuerySet[Any], words: str) -> models.QuerySet[Any]:
    """Those with the words in name or code; all of them without words."""
    text = words.strip()
    if not text:
        return stocks
    return stocks.filter(Q(code__icontains=text) | Q(name__icontains=text))


class BaseStock(models.Model):
    """One liquid the plant blends from. Contents stand in ``AnalysisFigure``."""

    code = models.CharField(max_length=20, unique=True)
    name = models.CharField(max_length=120)
    derived_from = models.CharField(
        max_length=200, blank=True, help_text='Source name(s) for the label\'s "Derived from".'
    )
    other_origin = models.CharField(
        "origin of other ingredients",
        max_length=200,
        blank=True,
        help_text="What its ingredients that are no plant nutrient come from, such as leonardite.",
    )
    other_origin_source = models.CharField(max_length=300, blank=True)
    other_origin_mark = models.CharField(max_length=40, choices=MARK_CHOICES, blank=True)
    density_lb_per_gal = models.FloatField(
        validators=[MinValueValidator(5.0), MaxValueValidator(20.0)]
    )
    density_temp_f = models.FloatField(default=REFERENCE_F)
    density_source = models.CharField(max_length=300)
    density_mark = models.CharField(max_length=40, choices=MARK_CHOICES)
    solutes = models.CharField(
        "dissolved in it, % by weight",
        max_length=200,
        blank=True,
        validators=[check_solutes],
        help_text=(
            "Such as urea 30; NH4NO3 40. The rest counts as water. Left empty: volumes are taken"
            " to add up when it is blended."
        ),
    )
    solutes_source = models.CharField(max_length=300, blank=True)
    solutes_mark = models.CharField(max_length=40, choices=MARK_CHOICES, blank=True)
    ph_low = models.FloatField(
        null=True, blank=True, validators=[MinValueValidator(-2), MaxValueValidator(16)]
    )
    ph_high = models.FloatField(
        null=True, blank=True, validators=[MinValueValidator(-2), MaxValueValidator(16)]
    )
    ph_source = models.CharField(max_length=300, blank=True)
    ph_mark = models.CharField(max_length=40, choices=MARK_CHOICES, blank=True)
    salt_index = models.FloatField(
        null=True,
        blank=True,
        help_text="Per equal weight of the stock as it is, sodium nitrate = 100.",
    )
    salt_index_source = models.CharField(max_length=300, blank=True)
    salt_index_mark = models.CharField(max_length=40, choices=MARK_CHOICES, blank=True)
    salt_out_note = models.CharField(max_length=300, blank=True)
    hazards = models.TextField(blank=True, help_text="The product's SDS governs.")
    ppe = models.CharField(max_length=300, blank=True)
    hazards_source = models.CharField(max_length=300, blank=True)
    hazards_mark = models.CharField(max_length=40, choices=MARK_CHOICES, blank=True)
    traits = models.ManyToManyField(Trait, blank=True, related_name="stocks")
    charging_rank = models.PositiveSmallIntegerField(
        default=50, help_text="Order of addition; water first, inhibitors last."
    )
    min_pct = models.FloatField(
        "minimum share, %",
        default=0.0,
        validators=[MinValueValidator(0), MaxValueValidator(100)],
        help_text="Every blend holds at least this much; usually 0.",
    )
    max_pct = models.FloatField(
        "maximum share, %",
        default=100.0,
        validators=[MinValueValidator(0), MaxValueValidator(100)],
    )
    share_source = models.CharField(max_length=300, blank=True)
    scale_step_lb = models.FloatField(default=1.0, validators=[MinValueValidator(0.001)])
    short = models.BooleanField(
        default=False, help_text="Out of stock for now: reorders are re-solved without it."
    )
    retired_on = models.DateField(null=True, blank=True)
    notes = models.TextField(blank=True)

    objects = BaseStockQuerySet.as_manager()
    history = HistoricalRecords(m2m_fields=[traits])

    class Meta:
        ordering = ("code",)
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(density_lb_per_gal__gt=0),
                name="base_stock_density_is_positive",
                violation_error_message="The density must be above zero.",
            ),
            models.CheckConstraint(
                condition=Q(min_pct__gte=0, max_pct__lte=100, min_pct__lte=F("max_pct")),
                name="base_stock_shares_are_in_order",
                violation_error_message="The minimum share must not exceed the maximum share.",
            ),
            models.CheckConstraint(
                condition=Q(scale_step_lb__gt=0),
                name="base_stock_scale_step_is_positive",
                violation_error_message="The scale step must be above zero.",
            ),
            models.CheckConstraint(
                condition=Q(solutes="") | ~Q(solutes_source=""),
                name="base_stock_solutes_have_a_source",
                violation_error_message="What is dissolved in a stock names where it comes from.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.code} {self.name}"

    @property
    def is_active(self) -> bool:
        return self.retired_on is None

    def analysis(self) -> dict[str, float]:
        """Contents in percent by weight, by composition key."""
        return {figure.key: figure.pct for figure in self.analysis_figures.all()}

    def solutes_pct(self) -> dict[str, float]:
        """What is dissolved, percent by weight by solute key; empty where it is not known."""
        return read_solutes(self.solutes)

    @property
    def is_water(self) -> bool:
        return any(trait.code == "water" for trait in self.traits.all())

    def density_at_60_f(self, lb_per_gal: float | None = None, at_f: float | None = None) -> float:
        """Density at 60 F, lb/gal: the stock's own, or a lot's as its certificate states it.

        Traits must be prefetched or cost a query. A density without a temperature is at 60 F.
        """
        if lb_per_gal is None:
            lb_per_gal, at_f = self.density_lb_per_gal, self.density_temp_f
        if at_f is None or at_f == REFERENCE_F:
            return lb_per_gal
        known = bool(self.solutes) or self.is_water
        moved = density_at_60_f(lb_per_gal, at_f, self.solutes_pct() if known else None)
        return round(moved, DENSITY_PLACES)

    def metals_ppm(self) -> dict[str, float]:
        """Metals in ppm by weight, those that were measured; a missing metal is not zero."""
        return {figure.metal: figure.ppm for figure in self.metal_figures.all()}

    def cost_on(self, day: date) -> "StockCost | None":
        """The cost entry in force on a day: latest effective date, then latest entry."""
        entries = [cost for cost in self.costs.all() if cost.effective_from <= day]
        return max(entries, key=lambda cost: (cost.effective_from, cost.pk), default=None)


class AnalysisFigure(models.Model):
    """How much of one thing a stock holds, with the source of that figure."""

    stock = models.ForeignKey(BaseStock, on_delete=models.CASCADE, related_name="analysis_figures")
    key = models.CharField(
        max_length=20, choices=[(key, f"{key}: {NAMES[key]}") for key in ANALYSIS_KEYS]
    )
    pct = models.FloatField("percent by weight", validators=[MinValueValidator(0)])
    source = models.CharField(max_length=300)
    mark = models.CharField(max_length=40, choices=MARK_CHOICES)

    history = HistoricalRecords()

    class Meta:
        ordering = ("pk",)
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["stock", "key"],
                name="analysis_figure_is_given_once",
                violation_error_message="This content is already given for the stock.",
            ),
            models.CheckConstraint(
                condition=Q(pct__gt=0, pct__lte=100),
                name="analysis_figure_is_a_percentage",
                violation_error_message="A content is above 0 and at most 100 percent.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.key} {self.pct} %"


class MetalFigure(models.Model):
    """How much of one heavy metal a stock holds, as somebody measured it; 0 is a figure too."""

    stock = models.ForeignKey(BaseStock, on_delete=models.CASCADE, related_name="metal_figures")
    metal = models.CharField(
        max_length=2, choices=[(metal, f"{metal}: {name}") for metal, name in METALS.items()]
    )
    ppm = models.FloatField("ppm by weight", validators=[MinValueValidator(0)])
    source = models.CharField(max_length=300)
    mark = models.CharField(max_length=40, choices=MARK_CHOICES)
    measured_on = models.DateField(
        null=True, blank=True, help_text="Date of the analysis, as the certificate says."
    )

    history = HistoricalRecords()

    class Meta:
        ordering = ("pk",)
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["stock", "metal"],
                name="metal_figure_is_given_once",
                violation_error_message="This metal is already given for the stock.",
            ),
            models.CheckConstraint(
                condition=Q(ppm__gte=0, ppm__lte=1_000_000),
                name="metal_figure_is_in_ppm",
                violation_error_message="A metal is between 0 and 1,000,000 ppm.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.metal} {house().significant(self.ppm)} ppm"


#: Pounds in a short ton, the ton of fertilizer trade (O.C.G.A. 2-12-2).
LB_PER_TON = Decimal(units.LB_PER_TON)


class StockCost(WrittenOnceModel):
    """What a stock costs from a day on. Entries are added, never edited."""

    stock = models.ForeignKey(BaseStock, on_delete=models.PROTECT, related_name="costs")
    effective_from = models.DateField()
    amount = models.DecimalField(max_digits=12, decimal_places=4)
    unit = models.CharField(max_length=3, choices=[(unit.value, unit.label) for unit in CostUnit])
    note = models.CharField(max_length=200, blank=True)
    entered_by = models.ForeignKey(
        "accounts.User", null=True, on_delete=models.PROTECT, related_name="+"
    )
    entered_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ("-effective_from", "-pk")
        indexes: ClassVar = [
            models.Index(fields=["entered_at", "id"], name="stock_cost_by_time"),
            # Figures ask of each weight what its stock cost on a day: the end of this index.
            models.Index(
                fields=["stock", "-effective_from", "-id"], name="stock_cost_newest_first"
            ),
        ]
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(amount__gte=0),
                name="stock_cost_is_not_negative",
                violation_error_message="A cost is not negative.",
            ),
            models.CheckConstraint(
                condition=Q(unit__in=[unit.value for unit in CostUnit]),
                name="stock_cost_unit_is_known",
                violation_error_message="A cost is per ton, per lb or per gal.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.stock.code} {self.amount} {self.get_unit_display()}"

    def per_lb(self) -> Decimal:
        """Dollars per pound, unrounded; a cost per gallon needs the stock's density."""
        if self.unit == CostUnit.TON:
            return self.amount / LB_PER_TON
        if self.unit == CostUnit.GAL:
            return self.amount / Decimal(repr(self.stock.density_lb_per_gal))
        return self.amount
