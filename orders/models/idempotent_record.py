"""A row that is written once under a key its sender made: sent again, it is the same row."""

from django.db import models
from django.utils import timezone

from blendshop.accounts.models import User
from blendshop.immutable import WrittenOnceModel


class IdempotentRecord(WrittenOnceModel):
    """Who wrote it and when; ``key`` is its idempotency key: the same key again writes nothing."""

    key = models.CharField(max_length=64, unique=True)
    by = models.ForeignKey(User, null=True, on_delete=models.SET_NULL, related_name="+")
    who = models.CharField(max_length=160)
    at = models.DateTimeField(default=timezone.now)

    class Meta:
        abstract = True
        ordering = ("pk",)


class ReasonedRecord(IdempotentRecord):
    """One that undoes or changes something, and says why; each table insists on the reason."""

    why = models.CharField(max_length=400)

    class Meta(IdempotentRecord.Meta):
        abstract = True


def needs_reason(name: str, message: str) -> models.CheckConstraint:
    """The constraint of a ``ReasonedRecord``'s table, and what it says when it is broken."""
    return models.CheckConstraint(
        condition=~models.Q(why=""), name=name, violation_error_message=message
    )
