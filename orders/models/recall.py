"""Recalls: what is called back and why, what it holds, whom it concerns and who was told when."""

from typing import ClassVar

from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from blendshop.accounts.models import Company, User
from blendshop.immutable import WrittenOnceModel
from blendshop.roles import STAFF, has_role
from orders.models.batch import Batch
from orders.models.events import Event
from orders.models.idempotent_record import IdempotentRecord


class RecallQuerySet(models.QuerySet["Recall"]):
    def visible_to(self, user: User) -> "RecallQuerySet":
        """All staff read recalls; customers never, they get the letter."""
        return self if has_role(user, *STAFF) else self.none()


class Recall(models.Model):
    """What is called back, by the code it began with.

    What it reaches is traced anew whenever it is looked at. ``reason`` is the plant's own;
    ``customer_reason`` is a formulator's and is all of it that a customer reads. Closing it frees
    nothing: what it holds stays held until ``freed_at``.
    """

    number = models.CharField(max_length=20, unique=True)
    source = models.CharField(max_length=80)
    reason = models.CharField(max_length=400)
    customer_reason = models.TextField(max_length=1000, blank=True)
    opened_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    opened_at = models.DateTimeField(default=timezone.now)
    held_at = models.DateTimeField(null=True, blank=True)
    freed_at = models.DateTimeField(null=True, blank=True)
    closed_at = models.DateTimeField(null=True, blank=True)

    objects = RecallQuerySet.as_manager()

    class Meta:
        ordering = ("-pk",)
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=~Q(source="") & ~Q(reason=""),
                name="recall_says_what_and_why",
                violation_error_message="A recall says what is called back and why.",
            )
        ]

    def __str__(self) -> str:
        return self.number


class RecallEvent(Event):
    recall = models.ForeignKey(Recall, on_delete=models.CASCADE, related_name="events")


class HeldByRecall(WrittenOnceModel):
    """A batch that a recall stops: nothing of it is released, filled or shipped."""

    recall = models.ForeignKey(Recall, on_delete=models.PROTECT, related_name="held")
    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="recalls")
    at = models.DateTimeField(default=timezone.now)

    class Meta:
        verbose_name_plural = "held by recalls"
        ordering = ("pk",)
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["recall", "batch"],
                name="recall_holds_a_batch_once",
                violation_error_message="The recall holds this batch already.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.recall}: {self.batch}"


class RecallCustomer(WrittenOnceModel):
    """A customer a recall concerns: whose letters and whose calls they are."""

    recall = models.ForeignKey(Recall, on_delete=models.PROTECT, related_name="customers")
    company = models.ForeignKey(Company, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ("pk",)
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["recall", "company"],
                name="recall_concerns_a_customer_once",
                violation_error_message="The recall concerns this customer already.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.recall.number}-{self.company_id}"


class ToldOfRecall(IdempotentRecord):
    """That somebody told a customer of a recall, how and when; ``at`` is when it was written."""

    class Way(models.TextChoices):
        PHONE = "phone", _("phone")
        MAIL = "mail", _("mail")
        LETTER = "letter", _("letter")

    customer = models.ForeignKey(RecallCustomer, on_delete=models.PROTECT, related_name="told")
    way = models.CharField(max_length=10, choices=Way)
    told_at = models.DateTimeField()
    note = models.CharField(max_length=400, blank=True)

    class Meta(IdempotentRecord.Meta):
        verbose_name_plural = "told of recalls"
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(way__in=["phone", "mail", "letter"]) & ~Q(who=""),
                name="told_of_recall_is_signed",
                violation_error_message="Say how the customer was told; it is signed.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.customer}: {self.get_way_display()}"
