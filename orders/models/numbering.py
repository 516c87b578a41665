"""Running numbers of quotes, orders and batches: one row per series and year."""

from typing import ClassVar

from django.db import models


class NumberSeries(models.Model):
    """The last number given out. Counted up by a guarded update inside the caller's transaction."""

    prefix = models.CharField(max_length=4)
    year = models.PositiveSmallIntegerField()
    last = models.PositiveIntegerField(default=0)

    class Meta:
        verbose_name_plural = "number series"
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["prefix", "year"],
                name="number_series_is_one_row_a_year",
                violation_error_message="This series already exists.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.prefix}-{self.year}-{self.last:04d}"
