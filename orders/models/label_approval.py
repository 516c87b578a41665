"""A label approved by a formulator: once for a revision, a state and a package, not for a load."""

from collections.abc import Mapping
from typing import Any, ClassVar

from django.db import models
from django.db.models import Q
from django.utils import timezone

from blendshop.accounts.models import User
from blendshop.immutable import WrittenOnceModel, WrittenOnceQuerySet
from blendshop.snapshot import StoredIn
from formulas.models import BlendRevision
from orders.frozen.approved_label import ApprovedLabel
from orders.models.batch import BatchPart
from orders.models.policy import Package


class LabelApprovalQuerySet(WrittenOnceQuerySet):
    def standing(self) -> "LabelApprovalQuerySet":
        """Those nobody has withdrawn."""
        return self.filter(withdrawal__isnull=True)


class LabelApproval(WrittenOnceModel):
    """Who approved which label, and when.

    It holds for every load of the revision that goes to the state in the package, as long as the
    label says what was approved; ``part`` is the one it was read on. ``label`` is the JSON of
    ``approved``. ``in_use_before`` marks what was printed before labels were approved: it names
    nobody, ``at`` is the day it was printed.
    """

    revision = models.ForeignKey(
        BlendRevision, on_delete=models.PROTECT, related_name="label_approvals"
    )
    state = models.CharField(max_length=2)
    package = models.ForeignKey(Package, on_delete=models.PROTECT, related_name="+")
    part = models.ForeignKey(BatchPart, on_delete=models.PROTECT, related_name="label_approvals")
    label: "models.JSONField[Mapping[str, Any], object]" = models.JSONField()
    note = models.CharField(max_length=400, blank=True)
    in_use_before = models.BooleanField(default=False)
    by = models.ForeignKey(User, null=True, on_delete=models.SET_NULL, related_name="+")
    who = models.CharField(max_length=160, blank=True)
    at = models.DateTimeField(default=timezone.now)

    approved = StoredIn(ApprovedLabel, "label")

    objects: ClassVar = LabelApprovalQuerySet.as_manager()

    class Meta:
        ordering = ("pk",)
        indexes: ClassVar = [
            models.Index(fields=["revision", "state", "package"], name="label_approval_of"),
            models.Index(fields=["at", "id"], name="label_approval_by_time"),
        ]
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(in_use_before=True, who="") | Q(in_use_before=False) & ~Q(who=""),
                name="label_approval_names_who_approved",
                violation_error_message="An approval says who approved the label.",
            ),
        ]

    def __str__(self) -> str:
        return f"Label of {self.revision} for {self.state} in {self.package}"


class LabelApprovalWithdrawn(WrittenOnceModel):
    """An approval taken back by a formulator, beside it; what was printed stays as it is."""

    approval = models.OneToOneField(
        LabelApproval, on_delete=models.PROTECT, related_name="withdrawal"
    )
    why = models.CharField(max_length=400)
    by = models.ForeignKey(User, null=True, on_delete=models.SET_NULL, related_name="+")
    who = models.CharField(max_length=160)
    at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ("pk",)
        verbose_name_plural = "label approvals withdrawn"
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=~Q(why=""),
                name="label_approval_is_withdrawn_for_a_reason",
                violation_error_message="Say why the approval is withdrawn.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.approval}: withdrawn"
