"""Every change of state leaves a row: who, when, from, to, why."""

from typing import Any, ClassVar

from django.db import models

from blendshop.accounts.models import User
from blendshop.immutable import WrittenOnceModel


class Event(WrittenOnceModel):
    """Base of the event tables. ``who`` is copied: the entry outlives the person's account."""

    at = models.DateTimeField(auto_now_add=True)
    by = models.ForeignKey(User, null=True, on_delete=models.SET_NULL, related_name="+")
    who = models.CharField(max_length=160)
    from_status = models.CharField(max_length=30, blank=True)
    to_status = models.CharField(max_length=30)
    why = models.CharField(max_length=400, blank=True)
    data: Any = models.JSONField(default=dict)

    class Meta:
        abstract = True
        ordering = ("pk",)
        indexes: ClassVar = [models.Index(fields=["at", "id"], name="%(class)s_by_time")]

    def __str__(self) -> str:
        return f"{self.who}: {self.from_status or 'new'} to {self.to_status}"
