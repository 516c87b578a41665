"""The data a price is made from. All of it belongs to the office."""

from decimal import Decimal
from typing import ClassVar, Final

from django.core.validators import MaxValueValidator, MinValueValidator, RegexValidator
from django.db import models
from django.db.models import F, Q
from simple_history.models import HistoricalRecords

from blendshop.immutable import WrittenOnceModel
from formulas.engine.mark import Mark
from formulas.engine.plant.load import USUAL_TOLERANCE_PCT, FineScale, LoadScale
from formulas.engine.plant.scale_tolerance import ScaleClass
from orders.pricing import PackageKind

NOT_NEGATIVE = [MinValueValidator(Decimal(0))]
PERCENT = [MinValueValidator(Decimal(0)), MaxValueValidator(Decimal("99.99"))]


class PricePolicy(WrittenOnceModel):
    """Plant-wide price figures from a day on. A change is a new row."""

    effective_from = models.DateField()
    shrink_pct = models.DecimalField(max_digits=5, decimal_places=2, validators=PERCENT)
    batch_fee = models.DecimalField(max_digits=10, decimal_places=2, validators=NOT_NEGATIVE)
    blend_fee_per_gal = models.DecimalField(
        max_digits=10, decimal_places=4, validators=NOT_NEGATIVE
    )
    lab_fee_per_batch = models.DecimalField(
        max_digits=10, decimal_places=2, validators=NOT_NEGATIVE
    )
    note = models.CharField(max_length=200, blank=True)
    entered_at = models.DateTimeField(auto_now_add=True)

    history = HistoricalRecords()

    class Meta:
        verbose_name_plural = "price policies"
        ordering = ("-effective_from", "-pk")
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(
                    shrink_pct__gte=0,
                    batch_fee__gte=0,
                    blend_fee_per_gal__gte=0,
                    lab_fee_per_batch__gte=0,
                ),
                name="price_policy_figures_are_not_negative",
                violation_error_message="Price figures are not negative.",
            )
        ]

    def __str__(self) -> str:
        return f"Price policy from {self.effective_from}"


class PriceTier(models.Model):
    """Margin policy of a class of customers, percent of the price."""

    name = models.CharField(max_length=60, unique=True)
    margin_pct = models.DecimalField(max_digits=5, decimal_places=2, validators=PERCENT)
    floor_pct = models.DecimalField(max_digits=5, decimal_places=2, validators=PERCENT)
    is_default = models.BooleanField(default=False, help_text="Used when no customer is chosen.")

    history = HistoricalRecords()

    class Meta:
        ordering = ("name",)
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(floor_pct__lte=F("margin_pct"), floor_pct__gte=0, margin_pct__lt=100),
                name="price_tier_floor_is_below_margin",
                violation_error_message="The floor must not exceed the margin.",
            ),
            models.UniqueConstraint(
                fields=["is_default"],
                condition=Q(is_default=True),
                name="price_tier_has_one_default",
                violation_error_message="Another tier is already the default.",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class QuantityBreak(models.Model):
    """On the gallons of a quote beyond this many, so many points less margin."""

    above_gal = models.PositiveIntegerField(unique=True)
    margin_points_off = models.DecimalField(max_digits=5, decimal_places=2, validators=PERCENT)

    history = HistoricalRecords()

    class Meta:
        ordering = ("above_gal",)
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(margin_points_off__gte=0, above_gal__gt=0),
                name="quantity_break_is_not_negative",
                violation_error_message="A quantity break lowers the margin.",
            )
        ]

    def __str__(self) -> str:
        return f"above {self.above_gal} gal: {self.margin_points_off} points off"


class Package(models.Model):
    """What the liquid leaves in, filled to its nominal fill and not to the brim."""

    Kind = PackageKind

    code = models.SlugField(max_length=20, unique=True)
    name = models.CharField(max_length=80)
    plural_name = models.CharField(max_length=80)
    kind = models.CharField(
        max_length=20, choices=[(kind.value, kind.label) for kind in PackageKind]
    )
    fill_gal = models.DecimalField(
        max_digits=8, decimal_places=2, help_text="Nominal fill; 0 for bulk."
    )
    tare_lb = models.DecimalField(max_digits=8, decimal_places=2, default=0)
    max_gross_lb = models.DecimalField(
        max_digits=8,
        decimal_places=2,
        null=True,
        blank=True,
        help_text="Contents and package together; empty for bulk.",
    )
    price = models.DecimalField(max_digits=10, decimal_places=2, default=0)
    deposit = models.DecimalField(max_digits=10, decimal_places=2, default=0)
    active = models.BooleanField(default=True)

    history = HistoricalRecords()

    class Meta:
        ordering = ("fill_gal", "code")
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(tare_lb__gte=0, price__gte=0, deposit__gte=0)
                & (
                    Q(kind="bulk", fill_gal=0, max_gross_lb__isnull=True, tare_lb=0, price=0)
                    | ~Q(kind="bulk") & Q(fill_gal__gt=0, max_gross_lb__gt=F("tare_lb"))
                ),
                name="package_figures_fit_its_kind",
                violation_error_message=(
                    "A package has a fill and a weight limit above its tare; bulk has none."
                ),
            ),
            models.CheckConstraint(
                condition=Q(kind="tote_deposit", deposit__gt=0)
                | ~Q(kind="tote_deposit") & Q(deposit=0),
                name="package_deposit_fits_its_kind",
                violation_error_message="A tote on deposit, and only that, carries a deposit.",
            ),
            models.CheckConstraint(
                condition=Q(kind__in=[kind.value for kind in PackageKind]),
                name="package_kind_is_known",
                violation_error_message="Choose one of the kinds of package.",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def is_bulk(self) -> bool:
        return self.kind == self.Kind.BULK


class FreightZone(models.Model):
    """What a delivery into a zone costs."""

    name = models.CharField(max_length=60, unique=True)
    per_load = models.DecimalField(max_digits=10, decimal_places=2, validators=NOT_NEGATIVE)
    per_package = models.DecimalField(max_digits=10, decimal_places=2, validators=NOT_NEGATIVE)
    per_gal = models.DecimalField(max_digits=10, decimal_places=4, validators=NOT_NEGATIVE)
    minimum = models.DecimalField(max_digits=10, decimal_places=2, validators=NOT_NEGATIVE)
    pick_up = models.BooleanField(default=False, help_text="The customer collects; no freight.")

    history = HistoricalRecords()

    class Meta:
        ordering = ("name",)
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(per_load__gte=0, per_package__gte=0, per_gal__gte=0, minimum__gte=0),
                name="freight_rates_are_not_negative",
                violation_error_message="Freight rates are not negative.",
            )
        ]

    def __str__(self) -> str:
        return self.name


class Truck(models.Model):
    """The vehicle loads are counted with: one deck truck and one tanker are in use."""

    class Kind(models.TextChoices):
        DECK = "deck", "deck truck for packages"
        TANKER = "tanker", "tanker for bulk"

    name = models.CharField(max_length=60, unique=True)
    kind = models.CharField(max_length=10, choices=Kind)
    empty_lb = models.DecimalField(max_digits=9, decimal_places=2, validators=NOT_NEGATIVE)
    gross_limit_lb = models.DecimalField(max_digits=9, decimal_places=2)
    payload_limit_lb = models.DecimalField(max_digits=9, decimal_places=2, null=True, blank=True)
    package_places = models.PositiveSmallIntegerField(null=True, blank=True)
    capacity_gal = models.DecimalField(max_digits=9, decimal_places=2, null=True, blank=True)
    in_use = models.BooleanField(default=True)

    history = HistoricalRecords()

    class Meta:
        ordering = ("kind", "name")
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(empty_lb__gt=0, gross_limit_lb__gt=F("empty_lb")),
                name="truck_limit_is_above_its_weight",
                violation_error_message="The gross limit must be above the empty weight.",
            ),
            models.UniqueConstraint(
                fields=["kind"],
                condition=Q(in_use=True),
                name="truck_in_use_is_one_of_a_kind",
                violation_error_message="Another truck of this kind is already in use.",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class StateFee(models.Model):
    """Inspection or tonnage fee of a state, with the text it comes from."""

    state = models.CharField(
        max_length=2, unique=True, validators=[RegexValidator(r"^[A-Z]{2}$", "Two capitals.")]
    )
    fee_per_ton = models.DecimalField(max_digits=8, decimal_places=4, validators=NOT_NEGATIVE)
    citation = models.CharField(max_length=300)
    mark = models.CharField(max_length=40)
    active = models.BooleanField(default=True)

    history = HistoricalRecords()

    class Meta:
        ordering = ("state",)

    def __str__(self) -> str:
        return f"{self.state} {self.fee_per_ton} per ton"


#: A plan with more tolerance than this is no recipe any more (our limit, no source).
LARGEST_TOLERANCE_PCT: Final = 5.0
#: More than one load every 40 minutes of a shift is a slip (our limit, no source).
MOST_LOADS_A_DAY: Final = 12


class Tank(models.Model):
    """A blending tank: how much one batch can be, and on what its stocks are weighed."""

    name = models.CharField(max_length=60, unique=True)
    capacity_gal = models.PositiveIntegerField()
    smallest_gal = models.PositiveIntegerField(
        default=0, help_text="Below this the agitator does not reach the liquid."
    )
    scale_step_lb = models.FloatField(
        "scale division, lb",
        default=1.0,
        help_text="Division of the tank's main scale; every stock is weighed in it.",
    )
    tolerance_pct = models.FloatField(
        "wanted tolerance, percent",
        default=USUAL_TOLERANCE_PCT,
        help_text=(
            "How far a weight may be off and still be on target, percent of the weight and at"
            " least one division. A plan keeps every promise for all such weights; a smaller"
            " tolerance makes a cheaper blend and a slower weighing."
        ),
    )
    fine_step_lb = models.FloatField(
        "division of the small scale, lb",
        null=True,
        blank=True,
        help_text="A second, finer scale for small weights; empty where there is none.",
    )
    fine_max_lb = models.FloatField(
        "most the small scale takes, lb",
        null=True,
        blank=True,
        help_text="Larger weights go on the main scale.",
    )
    loads_a_day = models.PositiveSmallIntegerField(
        "loads a working day",
        default=2,  # common practice, no source
        help_text=(
            "Loads of one blend it makes in a working day, weighing to filling. Due dates follow"
            f" it. The default is {Mark.COMMON_PRACTICE}; set your own."
        ),
        validators=[MinValueValidator(1), MaxValueValidator(MOST_LOADS_A_DAY)],
    )
    scale_class = models.CharField(
        "accuracy class of the main scale",
        max_length=5,
        choices=[(each.value, each.value) for each in ScaleClass],
        default=ScaleClass.III.value,
        help_text=(
            "III for hopper and floor scales, III L for a vehicle scale; it stands on the"
            " scale's plate. A small scale is class III."
        ),
    )
    active = models.BooleanField(default=True)

    history = HistoricalRecords()

    class Meta:
        ordering = ("capacity_gal", "name")
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(
                    capacity_gal__gt=0, scale_step_lb__gt=0, smallest_gal__lte=F("capacity_gal")
                ),
                name="tank_capacity_is_positive",
                violation_error_message="A tank has a capacity and a scale step above zero.",
            ),
            models.CheckConstraint(
                condition=Q(loads_a_day__gte=1, loads_a_day__lte=MOST_LOADS_A_DAY),
                name="tank_makes_loads_every_day",
                violation_error_message=f"A tank makes 1 to {MOST_LOADS_A_DAY} loads a day.",
            ),
            models.CheckConstraint(
                condition=Q(tolerance_pct__gt=0, tolerance_pct__lte=LARGEST_TOLERANCE_PCT),
                name="tank_tolerance_is_a_small_percentage",
                violation_error_message=(
                    f"The tolerance in percent is above 0 and at most {LARGEST_TOLERANCE_PCT:g}."
                ),
            ),
            models.CheckConstraint(
                condition=Q(fine_step_lb__isnull=True, fine_max_lb__isnull=True)
                | Q(
                    fine_step_lb__isnull=False,  # a check that compares with NULL holds
                    fine_max_lb__isnull=False,
                    fine_step_lb__gt=0,
                    fine_step_lb__lt=F("scale_step_lb"),
                    fine_max_lb__gte=F("fine_step_lb"),
                ),
                name="tank_small_scale_is_the_finer_one",
                violation_error_message=(
                    "A small scale has both a division, finer than the main scale's, and the most"
                    " it takes."
                ),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.name} ({self.capacity_gal} gal)"

    @property
    def fine_scale(self) -> FineScale | None:
        """The second scale for small weights, if the tank has one."""
        if self.fine_step_lb is None or self.fine_max_lb is None:
            return None
        return FineScale(self.fine_step_lb, self.fine_max_lb)

    @property
    def load_scale(self) -> LoadScale:
        """What a load of this tank is weighed on."""
        return LoadScale(self.scale_step_lb, self.fine_scale)
