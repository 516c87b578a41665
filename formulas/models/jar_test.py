"""Jar tests: what was mixed, how long it stood at what temperature, and how it looked then."""

from typing import ClassVar

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from blendshop.accounts.models import User
from blendshop.figures.readers import house
from blendshop.immutable import WrittenOnceModel, WrittenOnceQuerySet
from blendshop.roles import STAFF, has_role
from formulas.engine.storage.jar_distance import RegisteredJar
from formulas.models.base_stock import BaseStock
from formulas.models.blend import BlendRevision


class JarTestQuerySet(WrittenOnceQuerySet):
    def visible_to(self, user: User) -> "JarTestQuerySet":
        """Jar tests are the plant's own: they show recipes of any customer."""
        return self if has_role(user, *STAFF) else self.none()

    def that_count(self) -> "JarTestQuerySet":
        """Those that nobody has withdrawn, with their shares."""
        return self.filter(withdrawal__isnull=True).prefetch_related("shares__stock")


class JarTest(WrittenOnceModel):
    """A finished jar test. Written once; a wrong one is withdrawn, with a reason.

    ``key`` is an idempotency key, so that a form sent twice registers one jar.
    """

    class Outcome(models.TextChoices):
        CLEAR = "clear", _("stayed clear")
        CLOUDY = "cloudy", _("turned cloudy")
        LAYERS = "layers", _("went into layers")
        CRYSTALS = "crystals", _("threw crystals or sludge")
        GELLED = "gelled", _("thickened or set")
        HEAT_OR_GAS = "heat_or_gas", _("grew warm, foamed or gave off gas")

    revision = models.ForeignKey(
        BlendRevision, null=True, blank=True, on_delete=models.PROTECT, related_name="jar_tests"
    )
    tested_on = models.DateField("started on", default=timezone.localdate)
    days = models.FloatField(
        "stood for, days", validators=[MinValueValidator(0.0), MaxValueValidator(3650.0)]
    )
    temperature_f = models.FloatField(
        "kept at, °F", validators=[MinValueValidator(-60.0), MaxValueValidator(200.0)]
    )
    outcome = models.CharField(max_length=12, choices=Outcome)
    note = models.TextField(blank=True, max_length=2000)
    photo = models.FileField(upload_to="jar_tests/%Y/", max_length=200, blank=True)
    key = models.CharField(max_length=64, unique=True, editable=False)
    by = models.ForeignKey(User, null=True, on_delete=models.SET_NULL, related_name="+")
    who = models.CharField(max_length=160)
    at = models.DateTimeField(default=timezone.now)

    objects: ClassVar = JarTestQuerySet.as_manager()

    class Meta:
        ordering = ("-tested_on", "-pk")
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(days__gte=0, temperature_f__gte=-60, temperature_f__lte=200),
                name="jar_test_figures_are_possible",
                violation_error_message="Days are 0 or more, temperatures from -60 to 200 °F.",
            ),
            models.CheckConstraint(
                condition=Q(
                    outcome__in=["clear", "cloudy", "layers", "crystals", "gelled", "heat_or_gas"]
                ),
                name="jar_test_outcome_is_known",
                violation_error_message="This is not an outcome of a jar test.",
            ),
        ]

    def __str__(self) -> str:
        return self.code

    @property
    def code(self) -> str:
        """What it is called: J and its number."""
        return f"J{self.pk}"

    def recipe(self) -> dict[str, float]:
        """Percent by weight by stock code."""
        return {share.stock.code: share.pct for share in self.shares.all()}

    def registered(self) -> RegisteredJar:
        """As the engine compares it."""
        return RegisteredJar(
            code=self.code,
            shares=self.recipe(),
            days=self.days,
            temperature_f=self.temperature_f,
            stayed_clear=self.outcome == self.Outcome.CLEAR,
        )


class JarShare(WrittenOnceModel):
    """One stock's share in a jar, percent by weight."""

    jar_test = models.ForeignKey(JarTest, on_delete=models.PROTECT, related_name="shares")
    stock = models.ForeignKey(BaseStock, on_delete=models.PROTECT, related_name="+")
    pct = models.FloatField("percent by weight")

    class Meta:
        ordering = ("jar_test_id", "-pct", "pk")
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["jar_test", "stock"],
                name="jar_share_names_a_stock_once",
                violation_error_message="A stock stands once in a jar.",
            ),
            models.CheckConstraint(
                condition=Q(pct__gt=0, pct__lte=100.000001),
                name="jar_share_is_a_percentage",
                violation_error_message="A share is above 0 and at most 100 percent.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.stock.code} {house().number(self.pct, 3)} %"


class JarTestWithdrawal(WrittenOnceModel):
    """Says of a jar test that it must not count any more, and why."""

    jar_test = models.OneToOneField(JarTest, on_delete=models.PROTECT, related_name="withdrawal")
    why = models.CharField(max_length=400)
    by = models.ForeignKey(User, null=True, on_delete=models.SET_NULL, related_name="+")
    who = models.CharField(max_length=160)
    at = models.DateTimeField(default=timezone.now)

    class Meta:
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=~Q(why=""),
                name="jar_test_withdrawn_for_a_reason",
                violation_error_message="Say why the jar test must not count.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.jar_test} withdrawn: {self.why}"
