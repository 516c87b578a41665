"""The fields of one round in the form of all rounds."""

from __future__ import annotations

from django import forms, template

register = template.Library()


@register.filter
def of_round(rows: forms.Form, pk: int) -> list[forms.BoundField]:
    """Name, day and rate of the round with this key."""
    return [rows[f"{name}_{pk}"] for name in ("name", "on", "rate")]
