"""Lots of base stocks, what moved in and out of them, and what orders have reserved."""

from typing import ClassVar

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from blendshop.accounts.models import User
from blendshop.immutable import WrittenOnceModel
from blendshop.roles import STAFF, has_role
from formulas.engine.composition import ANALYSIS_KEYS, NAMES
from formulas.engine.label.metals import METALS
from formulas.models import BaseStock
from orders.models.batch import Batch
from orders.models.events import Event
from orders.models.order import OrderLine
from orders.models.pounds import PoundsField


class StockLotQuerySet(models.QuerySet["StockLot"]):
    def visible_to(self, user: User) -> "StockLotQuerySet":
        """Lots are the plant's own; customers see none."""
        return self if has_role(user, *STAFF) else self.none()

    def usable(self, today: object) -> "StockLotQuerySet":
        """Not held, not empty, not past its last day."""
        return self.filter(
            Q(expires_on__isnull=True) | Q(expires_on__gte=today),
            state=StockLot.State.OK,
            on_hand_lb__gt=0,
        )

    def in_order_of_use(self) -> "StockLotQuerySet":
        """First to expire first; those without a last day after them, first received first."""
        return self.order_by(F("expires_on").asc(nulls_last=True), "received_on", "pk")


class StockLot(models.Model):
    """One delivery of a base stock, or the part of one that was moved to another place.

    ``on_hand_lb`` is the sum of the lot's movements, counted up and down by the database in the
    transaction that writes each movement; the check below is what keeps two people who charge
    at once from taking what is not there. ``manage.py check_ledger`` proves the two equal.
    """

    class State(models.TextChoices):
        OK = "ok", _("in use")
        HELD = "held", _("held")
        EXHAUSTED = "exhausted", _("used up")

    code = models.CharField(
        max_length=20, unique=True, help_text="Our own number, printed on the lot and scanned."
    )
    stock = models.ForeignKey(BaseStock, on_delete=models.PROTECT, related_name="lots")
    supplier = models.CharField(max_length=120, blank=True)
    supplier_lot = models.CharField("supplier's lot", max_length=60, blank=True, db_index=True)
    received_lb = PoundsField("mass received, lb")
    on_hand_lb = PoundsField("on hand, lb", default=0)
    received_on = models.DateField()
    expires_on = models.DateField("last day of use", null=True, blank=True)
    location = models.CharField("tank or place", max_length=80, blank=True)
    density_lb_per_gal = models.FloatField(
        null=True, blank=True, validators=[MinValueValidator(5.0), MaxValueValidator(20.0)]
    )
    density_temp_f = models.FloatField(null=True, blank=True)
    density_source = models.CharField(max_length=300, blank=True)
    certificate = models.FileField(upload_to="certificates/%Y/", max_length=200, blank=True)
    state = models.CharField(max_length=12, choices=State, default=State.OK)
    held_reason = models.CharField(max_length=400, blank=True)
    split_from = models.ForeignKey(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="splits"
    )
    created_at = models.DateTimeField(auto_now_add=True)

    objects = StockLotQuerySet.as_manager()

    class Meta:
        ordering = ("-received_on", "-pk")
        indexes: ClassVar = [
            models.Index(fields=["stock", "state"], name="stock_lot_by_stock_and_state"),
        ]
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(on_hand_lb__gte=0),
                name="stock_lot_is_never_negative",
                violation_error_message="A lot cannot give more than it holds.",
            ),
            models.CheckConstraint(
                condition=Q(received_lb__gt=0),
                name="stock_lot_received_something",
                violation_error_message="A lot starts with a mass above zero.",
            ),
            models.CheckConstraint(
                condition=Q(state__in=["ok", "held", "exhausted"]),
                name="stock_lot_state_is_known",
                violation_error_message="This is not a state of a lot.",
            ),
            models.CheckConstraint(
                condition=~Q(state="held") | ~Q(held_reason=""),
                name="stock_lot_held_for_a_reason",
                violation_error_message="Say why the lot is held.",
            ),
            models.CheckConstraint(
                condition=Q(density_lb_per_gal__isnull=True)
                | Q(density_lb_per_gal__gt=0) & ~Q(density_source=""),
                name="stock_lot_density_has_a_source",
                violation_error_message="A measured density names where it comes from.",
            ),
        ]

    def __str__(self) -> str:
        return self.code

    def analysis(self) -> dict[str, float]:
        """Percent by weight by composition key: the certificate's, else the stock's typical."""
        return self.stock.analysis() | {figure.key: figure.pct for figure in self.figures.all()}

    def density(self) -> float:
        """lb/gal at 60 F: the certificate's, else the stock's typical."""
        return self.stock.density_at_60_f(self.density_lb_per_gal, self.density_temp_f)

    def metals_ppm(self) -> dict[str, float]:
        """Parts per million by weight of the metals the certificate names."""
        return {figure.metal: figure.ppm for figure in self.metals.all()}


class LotFigure(models.Model):
    """One figure of the lot's certificate; it overrides the stock's typical analysis."""

    lot = models.ForeignKey(StockLot, on_delete=models.CASCADE, related_name="figures")
    key = models.CharField(
        max_length=20, choices=[(key, f"{key}: {NAMES[key]}") for key in ANALYSIS_KEYS]
    )
    pct = models.FloatField("percent by weight")
    source = models.CharField(max_length=300)

    class Meta:
        ordering = ("pk",)
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["lot", "key"],
                name="lot_figure_is_given_once",
                violation_error_message="This content is already given for the lot.",
            ),
            # 0 is a figure here: the certificate may say that none was found.
            models.CheckConstraint(
                condition=Q(pct__gte=0, pct__lte=100),
                name="lot_figure_is_a_percentage",
                violation_error_message="A content is from 0 to 100 percent.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.key} {self.pct} %"


class LotMetal(models.Model):
    """A metal of the lot's certificate, parts per million by weight."""

    lot = models.ForeignKey(StockLot, on_delete=models.CASCADE, related_name="metals")
    metal = models.CharField(max_length=2, choices=list(METALS.items()))
    ppm = models.FloatField("ppm by weight")
    source = models.CharField(max_length=300)

    class Meta:
        ordering = ("pk",)
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["lot", "metal"],
                name="lot_metal_is_given_once",
                violation_error_message="This metal is already given for the lot.",
            ),
            models.CheckConstraint(
                condition=Q(ppm__gte=0, ppm__lte=1_000_000),
                name="lot_metal_is_parts_per_million",
                violation_error_message="A metal is from 0 to 1,000,000 ppm.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.metal} {self.ppm} ppm"


class LotEvent(Event):
    """Held, released, used up, certificate changed: everything that is not a mass."""

    lot = models.ForeignKey(StockLot, on_delete=models.CASCADE, related_name="events")


class StockMovement(WrittenOnceModel):
    """A mass into (+) or out of (-) a lot. Written once: a mistake is adjusted, with a reason.

    ``key`` is an idempotency key. The same key again is the same entry, so a form or a charge sent
    twice moves nothing twice.
    """

    class Kind(models.TextChoices):
        RECEIVED = "received", _("received")
        USED = "used", _("used in a batch")
        ADJUSTED = "adjusted", _("adjusted")
        TRANSFERRED_OUT = "transferred_out", _("moved to another lot")
        TRANSFERRED_IN = "transferred_in", _("moved from another lot")

    kind = models.CharField(max_length=16, choices=Kind)
    # The two indexes of Meta begin with these columns; Django's own would only double them.
    lot = models.ForeignKey(
        StockLot, on_delete=models.PROTECT, related_name="movements", db_index=False
    )
    batch = models.ForeignKey(
        Batch,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="stock_movements",
        db_index=False,
    )
    mass_lb = PoundsField("mass, lb")
    key = models.CharField(max_length=80, unique=True)
    by = models.ForeignKey(User, null=True, on_delete=models.SET_NULL, related_name="+")
    who = models.CharField(max_length=160)
    at = models.DateTimeField(default=timezone.now)
    why = models.CharField(max_length=400, blank=True)

    class Meta:
        ordering = ("pk",)
        indexes: ClassVar = [
            models.Index(fields=["lot", "batch"], name="stock_movement_lot_to_batch"),
            models.Index(fields=["batch", "lot"], name="stock_movement_batch_to_lot"),
            # What batches took in some weeks is read without the movements of all years.
            models.Index(
                fields=["at"], condition=Q(batch__isnull=False), name="stock_movement_of_a_batch_at"
            ),
        ]
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(kind__in=["received", "transferred_in"], mass_lb__gt=0)
                | Q(kind="transferred_out", mass_lb__lt=0)
                | Q(kind="used", mass_lb__lt=0, batch__isnull=False)
                | Q(kind="adjusted") & ~Q(mass_lb=0) & ~Q(why=""),
                name="stock_movement_sign_fits_its_kind",
                violation_error_message=(
                    "What is received adds, what is used or moved away takes off and names its"
                    " batch, and an adjustment gives its reason."
                ),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.lot} {self.get_kind_display()} {self.mass_lb} lb"


class StockReservation(models.Model):
    """What one order line needs of one stock, by its recipe, when the order was placed.

    How much of it is still reserved follows from the order's state and its batches; see
    ``orders.inventory.levels``. Nothing has to be released by hand.
    """

    order_line = models.ForeignKey(OrderLine, on_delete=models.CASCADE, related_name="reservations")
    stock = models.ForeignKey(BaseStock, on_delete=models.PROTECT, related_name="reservations")
    needed_lb = PoundsField("needed, lb")

    class Meta:
        ordering = ("pk",)
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["order_line", "stock"],
                name="stock_reservation_is_one_a_line",
                violation_error_message="This stock is already reserved for the line.",
            ),
            models.CheckConstraint(
                condition=Q(needed_lb__gt=0),
                name="stock_reservation_is_positive",
                violation_error_message="A reservation is above zero.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.order_line}: {self.needed_lb} lb of {self.stock.code}"
