"""Which state of the catalogue the database holds: a process asks whether what it kept is that."""

from typing import ClassVar

from django.db import models
from django.db.models import Q

from blendshop.one_row import OneRowModel


class CatalogueVersion(OneRowModel):
    """One row, written by the database itself with every change of what the catalogue reads.

    ``token`` is drawn by lot and not counted: a number of a transaction that was rolled back would
    come again and stand for something else. No row: nothing was ever changed.
    """

    id = models.PositiveSmallIntegerField(primary_key=True)
    token = models.CharField(max_length=40)

    class Meta:
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(id=1),
                name="catalogue_version_is_one_row",
                violation_error_message="The catalogue has one version at a time.",
            ),
        ]

    def __str__(self) -> str:
        return self.token
