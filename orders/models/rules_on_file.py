"""What a place's rules on file said when people of the plant were last told of them."""

from django.db import models
from django.utils import timezone


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
