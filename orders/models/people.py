"""What the plant keeps about itself and its customers beyond their names."""

from typing import ClassVar

from django.core.validators import MaxValueValidator, MinValueValidator, RegexValidator
from django.db import models
from django.db.models import F, Q
from simple_history.models import HistoricalRecords

from blendshop.accounts.models import Company, User
from blendshop.one_row import OneRowModel
from blendshop.roles import Role, has_role
from formulas.engine.mark import Mark
from orders.models.policy import FreightZone, PriceTier


class PlantProfile(OneRowModel):
    """The plant as guarantor: what stands at the head of its papers. One row."""

    name = models.CharField(max_length=120)
    address = models.CharField(max_length=200)
    phone = models.CharField(max_length=40, blank=True)
    email = models.EmailField(blank=True)
    licence_note = models.CharField(max_length=120, blank=True)
    quote_terms = models.TextField(blank=True)
    quote_validity_days = models.PositiveSmallIntegerField(default=30)
    payment_terms = models.CharField(
        max_length=120,
        blank=True,
        help_text="Of a customer or quote without any of its own, such as: net 30 days.",
    )
    lead_time_working_days = models.PositiveSmallIntegerField(
        default=7,  # common practice, no source
        help_text=(
            "Working days after which an order is due at the earliest, however free the tanks are,"
            " unless somebody sets another day."
        ),
        validators=[MinValueValidator(1), MaxValueValidator(250)],
    )
    release_working_days = models.PositiveSmallIntegerField(
        default=1,  # common practice, no source
        help_text=(
            "Working days from a load made to a load released: reading, filling, papers. The"
            f" default is {Mark.COMMON_PRACTICE}; set your own."
        ),
        validators=[MaxValueValidator(60)],
    )
    working_weekdays = models.CharField(
        max_length=7,
        default="12345",  # common practice, no source
        help_text="Days of the week on which loads are made.",
        validators=[RegexValidator(r"^1?2?3?4?5?6?7?$", "Choose days of the week.")],
    )
    minutes_a_day = models.PositiveSmallIntegerField(
        "minutes in a working day",
        default=480,  # common practice, no source
        help_text=(
            "In which a tank makes its loads of a day. The default, one shift of 8 hours, is"
            f" {Mark.COMMON_PRACTICE}; set your own."
        ),
        validators=[MinValueValidator(60), MaxValueValidator(1440)],
    )
    minutes_a_flush = models.PositiveSmallIntegerField(
        "minutes for a flush",
        default=60,  # common practice, no source
        help_text=(
            "To flush a tank between two loads that must not meet. The default is"
            f" {Mark.COMMON_PRACTICE}; set your own."
        ),
    )

    scale_check_days = models.PositiveSmallIntegerField(
        default=30,  # common practice, no source
        help_text=(
            "Days after which a scale is to be verified again with test weights"
            " (common practice, no source)."
        ),
        validators=[MinValueValidator(1), MaxValueValidator(400)],
    )

    history = HistoricalRecords()

    class Meta:
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(pk=1),
                name="plant_profile_is_one_row",
                violation_error_message="There is one plant profile; edit that.",
            ),
            models.CheckConstraint(
                condition=~Q(working_weekdays="") & Q(minutes_a_day__gte=F("minutes_a_flush")),
                name="plant_profile_has_time_to_work",
                violation_error_message=(
                    "The plant works on at least one day of the week, and a flush is done within"
                    " a working day."
                ),
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @classmethod
    def load(cls) -> "PlantProfile":
        """The profile, or an unsaved one that says it is still to be filled in."""
        return cls.stored() or cls(
            name="Plant name not set", address="Set it under First steps, Plant profile"
        )


class ClosedDay(models.Model):
    """A day on which the plant makes nothing although it is a working day of the week."""

    day = models.DateField(unique=True)
    why = models.CharField(max_length=120, blank=True, help_text="Holiday, stocktaking, repair.")

    history = HistoricalRecords()

    class Meta:
        ordering = ("day",)

    def __str__(self) -> str:
        return self.day.isoformat()


class ShipToQuerySet(models.QuerySet["ShipTo"]):
    def visible_to(self, user: User) -> "ShipToQuerySet":
        if has_role(user, Role.REP, Role.OFFICE, Role.PLANT, Role.FORMULATOR):
            return self
        return self.filter(company=user.company_id) if user.company_id else self.none()

    def waiting(self) -> "ShipToQuerySet":
        """Named by customers and not decided yet, the oldest first."""
        return self.filter(waits_since__isnull=False).order_by("waits_since", "pk")


class ShipTo(models.Model):
    """Where a customer takes delivery. State and county choose freight, fees and law."""

    company = models.ForeignKey(Company, on_delete=models.PROTECT, related_name="ship_tos")
    label = models.CharField(max_length=80)
    street = models.CharField(max_length=120)
    city = models.CharField(max_length=80)
    state = models.CharField(
        max_length=2, validators=[RegexValidator(r"^[A-Z]{2}$", "Two capital letters.")]
    )
    county = models.CharField(max_length=80, blank=True)
    postal_code = models.CharField(max_length=12, blank=True)
    zone = models.ForeignKey(FreightZone, on_delete=models.PROTECT, related_name="ship_tos")
    active = models.BooleanField(default=True)
    #: Who of the customer named it; None where the plant wrote it down.
    named_by = models.ForeignKey(
        User, null=True, blank=True, editable=False, on_delete=models.PROTECT, related_name="+"
    )
    #: Named by the customer then, and the plant has neither confirmed nor declined it.
    waits_since = models.DateTimeField(null=True, blank=True, editable=False)

    objects = ShipToQuerySet.as_manager()
    history = HistoricalRecords()

    class Meta:
        ordering = ("company__name", "label", "pk")
        indexes: ClassVar = [
            models.Index(
                fields=["waits_since"],
                condition=Q(waits_since__isnull=False),
                name="ship_to_waits",
            )
        ]
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["company", "label"],
                name="ship_to_label_is_unique_in_company",
                violation_error_message="This customer already has a ship-to of this name.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.label}, {self.city} {self.state}"

    @property
    def address_lines(self) -> tuple[str, ...]:
        county = f"{self.county} County" if self.county else ""
        return tuple(
            line
            for line in (
                self.label,
                self.street,
                f"{self.city}, {self.state} {self.postal_code}".strip(),
                county,
            )
            if line
        )


class CustomerTerms(models.Model):
    """How a company is priced."""

    company = models.OneToOneField(Company, on_delete=models.CASCADE, related_name="terms")
    tier = models.ForeignKey(PriceTier, on_delete=models.PROTECT, related_name="customers")
    payment_terms = models.CharField(max_length=120, blank=True)

    history = HistoricalRecords()

    class Meta:
        verbose_name_plural = "customer terms"

    def __str__(self) -> str:
        return f"{self.company}: {self.tier}"
