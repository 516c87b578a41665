"""Wishes kept for later: out of reach today, stopped by a rule, or simply unfinished."""

from collections.abc import Mapping
from typing import Any, ClassVar

from django.db import models
from django.db.models import Q

from blendshop.accounts.models import Company, User
from blendshop.roles import Role, has_role
from blendshop.snapshot import StoredIn
from formulas.answers.wish import Wish


class DraftWishQuerySet(models.QuerySet["DraftWish"]):
    def visible_to(self, user: User) -> "DraftWishQuerySet":
        """Reps, formulators and office see every draft wish; a customer its company's."""
        if has_role(user, Role.REP, Role.FORMULATOR, Role.OFFICE):
            return self
        return self.filter(company=user.company_id) if user.company_id else self.none()


class DraftWish(models.Model):
    """The body of a formulation request under a name; it has no recipe to promise."""

    name = models.CharField(max_length=120)
    company = models.ForeignKey(
        Company, null=True, blank=True, on_delete=models.PROTECT, related_name="draft_wishes"
    )
    wish: "models.JSONField[Mapping[str, Any], object]" = models.JSONField()
    wished = StoredIn(Wish, "wish")
    note = models.CharField(max_length=300, blank=True)
    created_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    created_at = models.DateTimeField(auto_now_add=True)

    objects = DraftWishQuerySet.as_manager()

    class Meta:
        db_table = "formulas_parkedwish"  # its name before a draft was called one
        verbose_name_plural = "draft wishes"
        ordering = ("-created_at", "-pk")
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=~Q(name=""),
                name="parked_wish_has_a_name",
                violation_error_message="Give the wish a name to find it by.",
            )
        ]

    def __str__(self) -> str:
        return self.name
