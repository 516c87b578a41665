"""What a place's rules on file said when people of the plant were last told of them."""

from typing import ClassVar

from django.db import models
from django.utils import timezone

from blendshop.immutable import WrittenOnceModel


class RulesOnFile(models.Model):
    """One row a rule pack, by its code; what is shipped next is held against it.

    ``said`` is {rule's code: {what of it: words}}, with figures and text, without the days of
    reading.
    """

    code = models.CharField(max_length=40, unique=True)
    said = models.JSONField()
    noted_at = models.DateTimeField(default=timezone.now)

    class Meta:
        verbose_name_plural = "rules on file"

    def __str__(self) -> str:
        return self.code


class RulesChange(WrittenOnceModel):
    """What the rules of a pack said otherwise than when they were looked at before.

    ``said`` is a list of sentences with the old figure and the new one.
    """

    code = models.CharField(max_length=40)
    at = models.DateTimeField(default=timezone.now)
    said: "models.JSONField[list[str], list[str]]" = models.JSONField()

    class Meta:
        ordering = ("-pk",)
        indexes: ClassVar = [models.Index(fields=["code", "id"], name="rules_change_of_pack")]

    def __str__(self) -> str:
        return f"{self.code}, {self.at:%Y-%m-%d}"
