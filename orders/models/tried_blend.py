"""Blends that somebody tried on the blend page and kept to compare."""

from collections.abc import Mapping
from typing import Any, ClassVar

from django.db import models

from blendshop.accounts.models import Company, User
from blendshop.snapshot import StoredIn
from formulas.answers.wish import Wish
from orders.frozen.tried_blend import TriedFigures
from orders.models.people import ShipTo
from orders.models.policy import Package


class TriedBlend(models.Model):
    """One person's wish with what it came to; ``link`` is the query that opens it again."""

    person = models.ForeignKey(User, on_delete=models.CASCADE, related_name="tried_blends")
    link = models.TextField()
    wish: "models.JSONField[Mapping[str, Any], object]" = models.JSONField()
    wished = StoredIn(Wish, "wish")
    company = models.ForeignKey(Company, null=True, on_delete=models.CASCADE, related_name="+")
    ship_to = models.ForeignKey(ShipTo, null=True, on_delete=models.CASCADE, related_name="+")
    package = models.ForeignKey(Package, on_delete=models.CASCADE, related_name="+")
    quantity = models.PositiveIntegerField()
    kept: "models.JSONField[Mapping[str, Any], object]" = models.JSONField()
    tried_at = models.DateTimeField(auto_now_add=True)

    figures = StoredIn(TriedFigures, "kept")

    class Meta:
        ordering: ClassVar = ["pk"]

    def __str__(self) -> str:
        return f"{self.figures.grade}, {self.tried_at:%Y-%m-%d %H:%M}"
