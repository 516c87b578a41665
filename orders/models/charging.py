"""What happened to a batch in the tank: charges, corrections, readings, packages, rinse.

All of it is written once. A charge carries the key its browser made for it, so the same charge
sent twice over a bad network is one charge.
"""

from collections.abc import Mapping, Sequence
from typing import Any, ClassVar, Self

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from blendshop.immutable import WrittenOnceQuerySet
from blendshop.snapshot import StoredIn
from formulas.models import BaseStock, BlendRevision
from orders.frozen.load_plan import Weighing
from orders.models.batch import Batch, BatchPart
from orders.models.idempotent_record import IdempotentRecord, ReasonedRecord, needs_reason
from orders.models.policy import Tank
from orders.models.pounds import PoundsField
from orders.models.stock import StockLot


class PlanAddition(ReasonedRecord):
    """A weighing added to the plan by an accepted correction; the plan itself is never edited.

    ``position`` counts on from the plan's last weighing. ``step`` is the JSON of ``weighing``.
    """

    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="additions")
    position = models.PositiveSmallIntegerField()
    stock = models.ForeignKey(BaseStock, on_delete=models.PROTECT, related_name="+")
    weight_lb = PoundsField("weight, lb")
    step: "models.JSONField[Mapping[str, Any], object]" = models.JSONField()

    weighing = StoredIn(Weighing, "step")

    class Meta(ReasonedRecord.Meta):
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["batch", "position"],
                name="plan_addition_has_its_own_position",
                violation_error_message="Another addition has this place in the batch.",
            ),
            models.CheckConstraint(
                condition=Q(weight_lb__gt=0) & ~Q(why=""),
                name="plan_addition_adds_something_for_a_reason",
                violation_error_message="An addition has a weight above zero and a reason.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.batch}: {self.weight_lb} lb of {self.stock.code} more"


class TargetChange(ReasonedRecord):
    """A new target for a weighing still to come, accepted because the tank is not as planned.

    ``step`` counts as in ``Charge``; of several changes of one step the newest holds.
    ``was_lb`` is the target before, ``weighing`` (JSON in ``figures``) what holds from now on.
    ``lot`` is what the new target counts on where that is not what the plan counted on.
    """

    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="target_changes")
    step = models.PositiveSmallIntegerField()
    lot = models.ForeignKey(
        StockLot, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    was_lb = PoundsField("target before, lb")
    weight_lb = PoundsField("target, lb")
    figures: "models.JSONField[Mapping[str, Any], object]" = models.JSONField()

    weighing = StoredIn(Weighing, "figures")

    class Meta(ReasonedRecord.Meta):
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(weight_lb__gt=0, step__gt=0) & ~Q(why=""),
                name="target_change_has_a_weight_and_a_reason",
                violation_error_message="A target has a weight above zero and a reason.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.batch}, step {self.step}: {self.weight_lb} lb instead of {self.was_lb} lb"


class Charge(IdempotentRecord):
    """So many pounds of one lot that went into the tank for one step of the batch.

    Water from the main has no lot; everything else names one.

    ``step`` is the position in the plan, counted from 1, additions after the plan's own.
    ``weighed_at`` is the tablet's clock, which may be earlier than ``at`` when the network was
    away; ``at`` is the server's.
    """

    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="charges")
    step = models.PositiveSmallIntegerField()
    stock = models.ForeignKey(BaseStock, on_delete=models.PROTECT, related_name="+")
    lot = models.ForeignKey(
        StockLot, null=True, blank=True, on_delete=models.PROTECT, related_name="charges"
    )
    mass_lb = PoundsField("weighed, lb")
    weighed_at = models.DateTimeField(null=True, blank=True)

    class Meta(IdempotentRecord.Meta):
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(mass_lb__gt=0, step__gt=0),
                name="charge_weighs_something",
                violation_error_message="A charge has a weight above zero.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.batch}: {self.mass_lb} lb of {self.lot or self.stock.code}"


class ReversedCharge(ReasonedRecord):
    """A charge that was written down wrongly; the charge stays readable and counts no more."""

    charge = models.OneToOneField(Charge, on_delete=models.PROTECT, related_name="reversal")

    class Meta(ReasonedRecord.Meta):
        db_table = "orders_chargetakenback"  # where these rows have stood from the first
        constraints: ClassVar = [
            needs_reason("reversed_charge_has_a_reason", "Say why the charge is reversed."),
        ]

    def __str__(self) -> str:
        return f"{self.charge} reversed"


class QualityReadingQuerySet(WrittenOnceQuerySet):
    def counting(self) -> Self:
        """Without those a formulator set aside as wrong; they count for nothing."""
        return self.filter(set_aside__isnull=True)


class QualityReading(IdempotentRecord):
    """What was read of a mixed batch, and how it stands against the plan's windows.

    ``density_at_reference`` is the density carried to ``reference_f``. ``findings`` are the
    sentences of what lies outside; a reading is inside when there are none.
    """

    class Appearance(models.TextChoices):
        CLEAR = "clear", _("one even liquid, no crystals, no layers")
        HAZY = "hazy", _("hazy or cloudy")
        CRYSTALS = "crystals", _("crystals or sediment")
        LAYERS = "layers", _("layers")
        OTHER = "other", _("something else (see the note)")

    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="readings")
    density_lb_per_gal = models.FloatField("density read, lb/gal")
    temperature_f = models.FloatField("temperature, °F")
    density_at_reference = models.FloatField()
    reference_f = models.FloatField()
    ph = models.FloatField("pH", null=True, blank=True)
    appearance = models.CharField(max_length=10, choices=Appearance)
    note = models.CharField(max_length=400, blank=True)
    lab_analysis: "models.JSONField[Mapping[str, float], Mapping[str, float]]" = models.JSONField(
        default=dict, blank=True
    )
    lab_source = models.CharField(max_length=200, blank=True)
    findings: "models.JSONField[Sequence[str], Sequence[str]]" = models.JSONField(
        default=list, blank=True
    )

    objects: ClassVar = QualityReadingQuerySet.as_manager()

    class Meta(IdempotentRecord.Meta):
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(density_lb_per_gal__gt=0, density_at_reference__gt=0),
                name="quality_reading_density_is_positive",
                violation_error_message="A density is above zero.",
            ),
            models.CheckConstraint(
                condition=Q(ph__isnull=True) | Q(ph__gte=-2, ph__lte=16),
                name="quality_reading_ph_is_a_ph",
                violation_error_message="A pH lies between -2 and 16.",
            ),
            models.CheckConstraint(
                condition=Q(lab_analysis={}) | ~Q(lab_source=""),
                name="quality_reading_lab_has_a_source",
                violation_error_message="A lab analysis names the laboratory and its report.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.batch}: {self.density_lb_per_gal} lb/gal at {self.temperature_f} °F"

    @property
    def is_inside(self) -> bool:
        """Whether everything read lies inside the plan's windows."""
        return not self.findings


class ReadingSetAside(ReasonedRecord):
    """A reading that was wrong, by a formulator's word; it stays readable and counts no more."""

    reading = models.OneToOneField(
        QualityReading, on_delete=models.PROTECT, related_name="set_aside"
    )

    class Meta(ReasonedRecord.Meta):
        verbose_name_plural = "readings set aside"
        constraints: ClassVar = [
            needs_reason("reading_set_aside_for_a_reason", "Say why the reading is wrong."),
        ]

    def __str__(self) -> str:
        return f"{self.reading} set aside"


class CountingDensities(models.Manager["MeasuredDensity"]):
    """Only densities whose reading counts, also behind ``revision.measured_densities``.

    The default of the model on purpose: nobody who asks for a density can forget to leave out
    one that was read wrongly. ``reading.adopted`` still leads to every row.
    """

    def get_queryset(self) -> models.QuerySet["MeasuredDensity"]:
        return WrittenOnceQuerySet(self.model, using=self._db).filter(
            reading__set_aside__isnull=True
        )


class MeasuredDensity(IdempotentRecord):
    """A released batch's density, adopted by its blend revision.

    The revision itself is never edited: plans of later batches take the newest of these for
    their density window. One whose reading was set aside since is not found any more.
    """

    revision = models.ForeignKey(
        BlendRevision, on_delete=models.PROTECT, related_name="measured_densities"
    )
    reading = models.OneToOneField(QualityReading, on_delete=models.PROTECT, related_name="adopted")
    density_lb_per_gal = models.FloatField()
    reference_f = models.FloatField()

    objects: ClassVar[Any] = CountingDensities()

    class Meta(IdempotentRecord.Meta):
        verbose_name_plural = "measured densities"
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(density_lb_per_gal__gt=0),
                name="measured_density_is_positive",
                violation_error_message="A density is above zero.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.revision}: {self.density_lb_per_gal} lb/gal at {self.reference_f} °F"


class PackageSerial(IdempotentRecord):
    """One filled package. The serial is what its label says and a scanner types."""

    part = models.ForeignKey(BatchPart, on_delete=models.PROTECT, related_name="packages")
    serial = models.CharField(max_length=40, unique=True)
    net_lb = PoundsField("net weight, lb")

    class Meta(IdempotentRecord.Meta):
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(net_lb__gt=0) & ~Q(serial=""),
                name="package_holds_something",
                violation_error_message="A filled package has a serial and a weight above zero.",
            ),
        ]

    def __str__(self) -> str:
        return self.serial


class BatchClosing(IdempotentRecord):
    """The balance of a finished batch: what it began on and was charged, filled, left, and lost.

    The heel that stays is no product yet: it is the next batch's ``heel_in_lb``, and its alone.
    """

    batch = models.OneToOneField(Batch, on_delete=models.PROTECT, related_name="closing")
    heel_in_lb = PoundsField("heel it was charged onto, lb", default=0)
    charged_lb = PoundsField("charged, lb")
    filled_lb = PoundsField("filled into packages, lb")
    heel_left_lb = PoundsField("left in the tank as its heel, lb", default=0)
    loss_lb = PoundsField("not filled, lb")
    why = models.CharField("where the difference went", max_length=400, blank=True)

    class Meta(IdempotentRecord.Meta):
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(
                    charged_lb=models.F("filled_lb")
                    + models.F("loss_lb")
                    + models.F("heel_left_lb")
                    - models.F("heel_in_lb")
                ),
                name="batch_closing_balances",
                violation_error_message="Heel and charges are filled, left and lost together.",
            ),
            models.CheckConstraint(
                condition=Q(heel_in_lb__gte=0, heel_left_lb__gte=0),
                name="batch_closing_heels_are_not_negative",
                violation_error_message="A heel is not less than nothing.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.batch}: {self.filled_lb} of {self.charged_lb} lb filled"


class TankRinse(IdempotentRecord):
    """A rinse of a tank, and where the water went.

    ``batch`` was last in it; None where that was no batch of ours, or nobody knew.
    ``lot`` is the rinse water kept as stock, its contents estimated from the residue.
    """

    class Destination(models.TextChoices):
        KEPT = "kept", _("kept as stock for a blend of the same kind")
        DISPOSED = "disposed", _("approved disposal")

    tank = models.ForeignKey(Tank, on_delete=models.PROTECT, related_name="rinses")
    batch = models.ForeignKey(
        Batch, null=True, blank=True, on_delete=models.PROTECT, related_name="rinses"
    )
    water_lb = PoundsField("water, lb")
    residue_lb = PoundsField("product left in the tank before, lb")
    destination = models.CharField(max_length=10, choices=Destination)
    lot = models.OneToOneField(
        StockLot, null=True, blank=True, on_delete=models.PROTECT, related_name="rinse"
    )
    note = models.CharField(max_length=400, blank=True)

    class Meta(IdempotentRecord.Meta):
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(water_lb__gt=0, residue_lb__gte=0),
                name="tank_rinse_used_water",
                violation_error_message="A rinse takes water.",
            ),
            models.CheckConstraint(
                condition=Q(destination="kept", lot__isnull=False)
                | Q(destination="disposed", lot__isnull=True),
                name="tank_rinse_kept_water_is_a_lot",
                violation_error_message="Rinse water that is kept is a lot of its own.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.tank}: rinse after {self.batch or 'unknown contents'}"
