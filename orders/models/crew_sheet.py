"""Crew sheets: one application of one product, for the people who spray it."""

from collections.abc import Mapping
from typing import Any, ClassVar

from django.db import models
from django.db.models import Q

from blendshop.accounts.models import Company, User
from blendshop.languages.offered import Language
from blendshop.roles import STAFF, Role, has_role
from blendshop.snapshot import StoredIn
from orders.frozen.crew_figures import CrewFigures
from orders.models.batch import BatchPart
from orders.models.order import OrderLine


class CrewSheetQuerySet(models.QuerySet["CrewSheet"]):
    def visible_to(self, user: User) -> "CrewSheetQuerySet":
        """All staff see them; a customer's people their company's."""
        if has_role(user, *STAFF):
            return self
        if has_role(user, Role.CUSTOMER) and user.company_id:
            return self.filter(company=user.company_id)
        return self.none()


class CrewSheet(models.Model):
    """What, how much and where; only ``closed_at`` is ever changed, another rate is another sheet.

    Exactly one of the two rates is given, per 1,000 sq ft. Of a boom spacing and speed are known,
    of a hand gun the seconds it takes for 1,000 sq ft; without either nothing is checked.
    """

    number = models.CharField(max_length=20, unique=True)
    key = models.CharField(max_length=64, unique=True, help_text="Sent twice, made once.")
    company = models.ForeignKey(Company, on_delete=models.PROTECT, related_name="crew_sheets")
    order_line = models.ForeignKey(OrderLine, on_delete=models.PROTECT, related_name="crew_sheets")
    part = models.ForeignKey(
        BatchPart, null=True, blank=True, on_delete=models.PROTECT, related_name="crew_sheets"
    )
    place = models.CharField(max_length=160)
    state = models.CharField(max_length=2)
    grass = models.CharField(max_length=80, blank=True)
    area_sqft = models.FloatField()
    n_rate_lb_per_1000sqft = models.FloatField(null=True, blank=True)
    product_fl_oz_per_1000sqft = models.FloatField(null=True, blank=True)
    carrier_gal_per_1000sqft = models.FloatField()
    tank_gal = models.FloatField()
    nozzle_count = models.PositiveSmallIntegerField(default=1)
    nozzle_spacing_in = models.FloatField(null=True, blank=True)
    speed_mph = models.FloatField(null=True, blank=True)
    seconds_per_1000sqft = models.FloatField(null=True, blank=True)
    from_on = models.DateField()
    until_on = models.DateField()
    note = models.CharField(max_length=300, blank=True)
    language = models.CharField(max_length=2, choices=Language, default=Language.ENGLISH)
    figures: "models.JSONField[Mapping[str, Any], object]" = models.JSONField()
    made_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField(auto_now_add=True)
    closed_at = models.DateTimeField(
        null=True, blank=True, help_text="From then on its link opens nothing."
    )

    crew_figures = StoredIn(CrewFigures, "figures")

    objects = CrewSheetQuerySet.as_manager()

    class Meta:
        ordering = ("-pk",)
        indexes: ClassVar = [models.Index(fields=["company", "-id"], name="crew_sheet_of_company")]
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(
                    n_rate_lb_per_1000sqft__isnull=True, product_fl_oz_per_1000sqft__isnull=False
                )
                | Q(n_rate_lb_per_1000sqft__isnull=False, product_fl_oz_per_1000sqft__isnull=True),
                name="crew_sheet_has_one_rate",
                violation_error_message="Give either pounds of N or fluid ounces of product.",
            ),
            models.CheckConstraint(
                condition=Q(until_on__gte=models.F("from_on")),
                name="crew_sheet_ends_after_it_begins",
                violation_error_message="The last day lies before the first.",
            ),
        ]

    def __str__(self) -> str:
        return self.number
