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
