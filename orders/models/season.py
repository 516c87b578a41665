"""A customer's season: what it treats, in which rounds of the year, with which blend and rate.

Nothing of it is ordered. What a program reserves is a ``StandingOrder``; its rounds point there.
"""

from typing import ClassVar

from django.core.validators import MaxValueValidator, MinValueValidator, RegexValidator
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from blendshop.accounts.models import Company, User
from blendshop.roles import Role, has_role
from formulas.engine.law import GRASSES
from formulas.models import BlendRevision
from formulas.wording.law_rules import GRASSES as GRASS_NAMES
from orders.models.events import Event
from orders.models.order import Order
from orders.models.people import ShipTo
from orders.models.policy import Package
from orders.models.standing_order import StandingOrder, StandingRound

_GRASSES = [(grass, GRASS_NAMES[grass]) for grass in GRASSES]
#: A slip of the keyboard, not a property: more acres than any lawn route has.
_MOST_ACRES = 100_000
_FIRST_YEAR, _LAST_YEAR = 2000, 2100


class PropertyQuerySet(models.QuerySet["Property"]):
    def visible_to(self, user: User) -> "PropertyQuerySet":
        """Rep and office read every customer's; a customer's people their company's."""
        if has_role(user, Role.REP, Role.OFFICE):
            return self
        if has_role(user, Role.CUSTOMER) and user.company_id:
            return self.filter(company=user.company_id)
        return self.none()


class Property(models.Model):
    """A lawn or a route of lawns that is treated alike: acres, grass, place, equipment.

    An empty ``grass`` and answers that are None are "not answered", never "no".
    """

    company = models.ForeignKey(Company, on_delete=models.PROTECT, related_name="properties")
    name = models.CharField(max_length=80)
    acres = models.FloatField(
        validators=[MinValueValidator(0.001), MaxValueValidator(_MOST_ACRES)],
        help_text=_("Treated acres; 1 acre is 43,560 sq ft."),
    )
    grass = models.CharField(max_length=30, blank=True, choices=_GRASSES)
    state = models.CharField(
        max_length=2, validators=[RegexValidator(r"^[A-Z]{2}$", _("Two capital letters."))]
    )
    county = models.CharField(max_length=80, blank=True)
    place = models.CharField(max_length=80, blank=True, verbose_name=_("city or town"))
    carrier_gal_per_1000sqft = models.FloatField(
        null=True,
        blank=True,
        validators=[MinValueValidator(0.01), MaxValueValidator(100)],
        help_text=_("Spray volume of the equipment, product included, gal per 1,000 sq ft."),
    )
    targeted_spray = models.BooleanField(null=True, blank=True)
    distance_to_water_ft = models.FloatField(
        null=True, blank=True, validators=[MinValueValidator(0), MaxValueValidator(100_000)]
    )
    soil_test_shows_p_need = models.BooleanField(null=True, blank=True)
    soil_test_on = models.DateField(null=True, blank=True)
    note = models.CharField(max_length=400, blank=True)
    active = models.BooleanField(default=True)

    objects = PropertyQuerySet.as_manager()

    class Meta:
        ordering = ("company_id", "name", "pk")
        verbose_name_plural = "properties"
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["company", "name"],
                name="property_name_is_unique_in_company",
                violation_error_message=_("There is already a property of this name."),
            ),
            models.CheckConstraint(
                condition=Q(acres__gt=0),
                name="property_acres_are_positive",
                violation_error_message=_("How many acres? More than 0."),
            ),
        ]

    def __str__(self) -> str:
        return self.name


class SeasonProgramQuerySet(models.QuerySet["SeasonProgram"]):
    def visible_to(self, user: User) -> "SeasonProgramQuerySet":
        """Rep and office read every customer's; a customer's people their company's."""
        if has_role(user, Role.REP, Role.OFFICE):
            return self
        if has_role(user, Role.CUSTOMER) and user.company_id:
            return self.filter(company=user.company_id)
        return self.none()


class SeasonProgram(models.Model):
    """The rounds of one year over some of a customer's properties, delivered to one place.

    While its ``standing_order`` has not ended its packages are reserved, and what they follow from
    is settled.
    """

    company = models.ForeignKey(Company, on_delete=models.PROTECT, related_name="season_programs")
    name = models.CharField(max_length=80)
    year = models.PositiveSmallIntegerField(
        validators=[MinValueValidator(_FIRST_YEAR), MaxValueValidator(_LAST_YEAR)]
    )
    ship_to = models.ForeignKey(ShipTo, on_delete=models.PROTECT, related_name="+")
    package = models.ForeignKey(Package, on_delete=models.PROTECT, related_name="+")
    professional = models.BooleanField(
        null=True, blank=True, default=True, help_text=_("Sprayed by a professional applicator.")
    )
    note = models.CharField(max_length=400, blank=True)
    properties: "models.ManyToManyField[Property, ProgramProperty]" = models.ManyToManyField(
        Property, through="ProgramProperty", related_name="programs"
    )
    standing_order = models.OneToOneField(
        StandingOrder,
        null=True,
        blank=True,
        on_delete=models.SET_NULL,
        related_name="season_program",
    )
    copied_from = models.ForeignKey(
        "self", null=True, blank=True, on_delete=models.SET_NULL, related_name="copies"
    )
    made_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField(auto_now_add=True)

    objects = SeasonProgramQuerySet.as_manager()

    class Meta:
        ordering = ("-year", "company__name", "name", "pk")
        indexes: ClassVar = [models.Index(fields=["year", "id"], name="season_program_by_year")]
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["company", "year", "name"],
                name="season_program_name_is_unique_in_year",
                violation_error_message=_("There is already a program of this name and year."),
            )
        ]

    def __str__(self) -> str:
        return f"{self.name} {self.year}"

    @property
    def is_reserved(self) -> bool:
        """Whether rounds of it may wait; what was given back is settled no longer."""
        return self.standing_order is not None and self.standing_order.ended_at is None


class ProgramProperty(models.Model):
    """A property that a program treats."""

    program = models.ForeignKey(
        SeasonProgram, on_delete=models.CASCADE, related_name="program_properties"
    )
    property = models.ForeignKey(Property, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ("program_id", "property__name", "pk")
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["program", "property"],
                name="program_property_stands_once",
                violation_error_message=_("This property is in the program already."),
            )
        ]

    def __str__(self) -> str:
        return f"{self.program}: {self.property}"


class ProgramRound(models.Model):
    """One round: a day, a blend and a rate of total nitrogen, over all properties but some.

    ``reserved_as`` is the round of the standing order that holds its packages; none where what
    the rounds before left over is enough.
    """

    program = models.ForeignKey(SeasonProgram, on_delete=models.CASCADE, related_name="rounds")
    name = models.CharField(max_length=80)
    on = models.DateField()
    revision = models.ForeignKey(BlendRevision, on_delete=models.PROTECT, related_name="+")
    n_rate_lb_per_1000sqft = models.FloatField(
        validators=[MinValueValidator(0.001), MaxValueValidator(20)]
    )
    left_out = models.ManyToManyField(Property, blank=True, related_name="+")
    reserved_as = models.OneToOneField(
        StandingRound,
        null=True,
        blank=True,
        on_delete=models.SET_NULL,
        related_name="program_round",
    )

    class Meta:
        ordering = ("program_id", "on", "pk")
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["program", "name"],
                name="program_round_name_is_unique",
                violation_error_message=_("There is already a round of this name."),
            ),
            models.CheckConstraint(
                condition=Q(n_rate_lb_per_1000sqft__gt=0),
                name="program_round_rate_is_positive",
                violation_error_message=_("How much nitrogen? More than 0."),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.program}: {self.name}"

    @property
    def released_as(self) -> Order | None:
        """The order of its packages; what is ordered stays as it was."""
        return None if self.reserved_as is None else self.reserved_as.released_as


class SeasonProgramEvent(Event):
    program = models.ForeignKey(SeasonProgram, on_delete=models.CASCADE, related_name="events")

    class Meta(Event.Meta):
        pass
