"""Finding addresses of customers."""

from __future__ import annotations

from typing import Any

from django.db.models import Q, QuerySet


def ship_tos_at(places: QuerySet[Any], words: str) -> QuerySet[Any]:
    """Addresses with these words in label, town or customer; all of them without words."""
    text = words.strip()
    if not text:
        return places
    return places.filter(
        Q(label__icontains=text) | Q(city__icontains=text) | Q(company__name__icontains=text)
    )
