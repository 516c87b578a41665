"""A customer's question that is about no order, and its answer."""

from typing import ClassVar

from django.db import models
from django.db.models import Q

from blendshop.accounts.models import Company, User
from blendshop.roles import Role, has_role


class QuestionQuerySet(models.QuerySet["CustomerQuestion"]):
    def visible_to(self, user: User) -> "QuestionQuerySet":
        """Rep and office read every company's; a customer's people their company's."""
        if has_role(user, Role.REP, Role.OFFICE):
            return self
        if has_role(user, Role.CUSTOMER) and user.company_id:
            return self.filter(company=user.company_id)
        return self.none()

    def waiting(self) -> "QuestionQuerySet":
        """Not answered yet, the oldest first."""
        return self.filter(answered_at__isnull=True).order_by("pk")


class CustomerQuestion(models.Model):
    """Asked once, answered at most once; another question is another row."""

    company = models.ForeignKey(Company, on_delete=models.PROTECT, related_name="questions")
    asked_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    asked_at = models.DateTimeField(auto_now_add=True)
    text = models.TextField(max_length=2000)
    answer = models.TextField(max_length=2000, blank=True)
    answered_by = models.ForeignKey(
        User, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    answered_at = models.DateTimeField(null=True, blank=True)

    objects = QuestionQuerySet.as_manager()

    class Meta:
        ordering = ("-pk",)
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(answered_at__isnull=True, answered_by__isnull=True, answer="")
                | (Q(answered_at__isnull=False, answered_by__isnull=False) & ~Q(answer="")),
                name="customer_question_is_answered_by_somebody",
                violation_error_message="An answer says who gave it and when.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.company}: {self.text[:40]}"
