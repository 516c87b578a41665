"""Records of applications: who put what where and when, as states ask for it."""

from typing import ClassVar

from django.db import models
from django.db.models import Q

from blendshop.accounts.models import Company, User
from blendshop.immutable import WrittenOnceQuerySet
from blendshop.roles import Role, has_role
from orders.models.crew_sheet import CrewSheet
from orders.models.idempotent_record import IdempotentRecord


class ApplicationRecordQuerySet(WrittenOnceQuerySet):
    def visible_to(self, user: User) -> "ApplicationRecordQuerySet":
        """The company's own people; rep and office, who are asked for them. Not the plant."""
        if has_role(user, Role.REP, Role.OFFICE):
            return self
        if has_role(user, Role.CUSTOMER) and user.company_id:
            return self.filter(company=user.company_id)
        return self.none()

    def standing(self) -> "ApplicationRecordQuerySet":
        """Without those that a later row corrects."""
        found: ApplicationRecordQuerySet = self.filter(correction__isnull=True)
        return found


class ApplicationRecord(IdempotentRecord):
    """One application of a crew sheet's product; written once, a correction is a row of its own.

    Product, analysis, lot and density are the sheet's of that minute, so that the record is read
    without it. ``applied_on`` and the times are those of the place.
    """

    company = models.ForeignKey(
        Company, on_delete=models.PROTECT, related_name="application_records"
    )
    sheet = models.ForeignKey(CrewSheet, on_delete=models.PROTECT, related_name="records")
    corrects = models.OneToOneField(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="correction"
    )
    state = models.CharField(max_length=2)
    product = models.CharField(max_length=160)
    analysis = models.CharField(max_length=40)
    derived_from = models.CharField(max_length=400, blank=True)
    lot = models.CharField(max_length=20, blank=True)
    density_lb_per_gal = models.FloatField()
    customer_name = models.CharField(max_length=120, blank=True)
    customer_phone = models.CharField(max_length=40, blank=True)
    place = models.CharField(max_length=200)
    postal_code = models.CharField(max_length=12, blank=True)
    applied_by = models.CharField(max_length=120)
    certificate_no = models.CharField(max_length=60, blank=True)
    supervisor = models.CharField(max_length=120, blank=True)
    applied_on = models.DateField()
    start_time = models.TimeField(null=True, blank=True)
    end_time = models.TimeField(null=True, blank=True)
    area_sqft = models.FloatField()
    rate_fl_oz_per_1000sqft = models.FloatField()
    amount_gal = models.FloatField()
    wind_mph = models.FloatField(null=True, blank=True)
    wind_from = models.CharField(max_length=20, blank=True)
    temperature_f = models.FloatField(null=True, blank=True)
    weather = models.CharField(max_length=120, blank=True)
    equipment = models.CharField(max_length=120, blank=True)
    notes = models.CharField(max_length=400, blank=True)

    objects: ClassVar = ApplicationRecordQuerySet.as_manager()

    class Meta(IdempotentRecord.Meta):
        ordering = ("-pk",)
        indexes: ClassVar = [
            models.Index(
                fields=["company", "-applied_on", "-id"], name="application_record_of_company"
            ),
            models.Index(fields=["-applied_on", "-id"], name="application_record_by_day"),
        ]
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(area_sqft__gt=0, amount_gal__gt=0),
                name="application_record_is_of_something",
                violation_error_message="Area and amount are above zero.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.sheet.number}, {self.applied_on.isoformat()}"

    @property
    def net_lb(self) -> float:
        """Pounds of product, by the density on the sheet."""
        return self.amount_gal * self.density_lb_per_gal
