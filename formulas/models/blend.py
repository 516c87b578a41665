"""Saved blends. A blend is a name; what is in it stands in immutable revisions."""

from collections.abc import Mapping
from typing import Any, ClassVar

from django.db import models
from django.db.models import Q
from simple_history.models import HistoricalRecords

from blendshop.accounts.models import Company, User
from blendshop.figures.readers import house
from blendshop.immutable import WrittenOnceModel
from blendshop.roles import Role, has_role
from blendshop.snapshot import StoredIn
from formulas.answers.answer import SolvedAnswer
from formulas.answers.wish import Wish


class BlendQuerySet(models.QuerySet["Blend"]):
    def visible_to(self, user: User) -> "BlendQuerySet":
        """Staff see every blend; a customer sees those of its own company."""
        if has_role(user, Role.REP, Role.FORMULATOR, Role.OFFICE, Role.PLANT):
            return self
        return self.filter(company=user.company_id) if user.company_id else self.none()

    def with_latest(self) -> "BlendQuerySet":
        """For lists: company and newest revision without a query per row."""
        newest = BlendRevision.objects.filter(
            blend=models.OuterRef("pk"), for_order_only=False
        ).order_by("-number")
        return self.select_related("company").annotate(
            latest_grade=models.Subquery(newest.values("grade")[:1]),
            latest_number=models.Subquery(newest.values("number")[:1]),
            latest_slow_pct=models.Subquery(newest.values("slow_release_pct")[:1]),
            latest_at=models.Subquery(newest.values("created_at")[:1]),
        )


class Blend(models.Model):
    """A named blend, of one customer company or of the plant's own book (no company)."""

    name = models.CharField(max_length=120)
    company = models.ForeignKey(
        Company, null=True, blank=True, on_delete=models.PROTECT, related_name="blends"
    )
    created_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    created_at = models.DateTimeField(auto_now_add=True)
    archived = models.BooleanField(default=False)

    objects = BlendQuerySet.as_manager()
    history = HistoricalRecords()

    class Meta:
        ordering = ("name", "pk")
        indexes: ClassVar = [
            models.Index(fields=["archived", "name", "id"], name="blend_by_name"),
        ]
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["company", "name"],
                condition=Q(company__isnull=False),
                name="blend_name_is_unique_in_company",
                violation_error_message="There is already a blend of this name.",
            ),
            models.UniqueConstraint(
                fields=["name"],
                condition=Q(company__isnull=True),
                name="blend_name_is_unique_in_plant_book",
                violation_error_message="There is already a blend of this name.",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def latest(self) -> "BlendRevision":
        """The newest revision of the blend itself, not of a single order."""
        newest: BlendRevision = self.revisions.filter(for_order_only=False).order_by("-number")[0]
        return newest


class BlendRevision(WrittenOnceModel):
    """What a blend is at one point: the wish, the recipe, the answer. Never edited.

    ``wish`` and ``answer`` are stored as JSON and read as ``wished``, what was asked, and
    ``solved``, the answer of that minute (costs included: staff only). ``RevisionLine`` holds
    the shares for repricing.
    ``for_order_only``: made for one order, or its quote, out of scarce stock, and never where a
    reorder or a new quote of the blend begins.
    """

    blend = models.ForeignKey(Blend, on_delete=models.PROTECT, related_name="revisions")
    number = models.PositiveIntegerField()
    wish: "models.JSONField[Mapping[str, Any], object]" = models.JSONField()
    wished = StoredIn(Wish, "wish")
    answer: "models.JSONField[Mapping[str, Any], object]" = models.JSONField()
    solved = StoredIn(SolvedAnswer, "answer")
    grade = models.CharField(max_length=40)
    slow_release_pct = models.FloatField(null=True, blank=True)
    density_lb_per_gal = models.FloatField()
    note = models.CharField(max_length=300, blank=True)
    for_order_only = models.BooleanField(default=False)
    once_key = models.CharField(
        max_length=64,
        null=True,
        blank=True,
        unique=True,
        editable=False,
        help_text="A form sent twice carries the same key and saves one revision.",
    )
    created_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    created_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ("blend_id", "-number")
        indexes: ClassVar = [
            models.Index(fields=["grade", "blend"], name="blend_revision_by_grade")
        ]
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["blend", "number"],
                name="blend_revision_number_is_unique",
                violation_error_message="Somebody saved a revision of this blend meanwhile.",
            ),
            models.CheckConstraint(
                condition=Q(density_lb_per_gal__gt=0),
                name="blend_revision_density_is_positive",
                violation_error_message="The density must be above zero.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.blend.name} r{self.number}"

    @property
    def for_anybody(self) -> "BlendRevision":
        """What stands in its place once its order is over: the newest of the same wish.

        Itself, unless it was made for one order only.
        """
        if not self.for_order_only:
            return self
        usual = self.blend.revisions.filter(for_order_only=False)
        same: BlendRevision | None = usual.filter(wish=self.wish).order_by("-number").first()
        return same or self.blend.latest

    @property
    def analysis(self) -> Mapping[str, float]:
        """Contents in percent by weight, total nitrogen beside its forms."""
        return self.solved.analysis


class RevisionLine(WrittenOnceModel):
    """One stock's share in a revision, percent by weight."""

    revision = models.ForeignKey(BlendRevision, on_delete=models.PROTECT, related_name="lines")
    stock = models.ForeignKey("formulas.BaseStock", on_delete=models.PROTECT, related_name="+")
    pct = models.FloatField()

    class Meta:
        ordering = ("revision_id", "pk")
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["revision", "stock"],
                name="revision_line_names_a_stock_once",
                violation_error_message="A stock stands once in a recipe.",
            ),
            models.CheckConstraint(
                condition=Q(pct__gt=0, pct__lte=100.000001),
                name="revision_line_share_is_a_percentage",
                violation_error_message="A share is above 0 and at most 100 percent.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.stock.code} {house().number(self.pct, 3)} %"
