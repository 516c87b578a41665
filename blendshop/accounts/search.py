"""Finding customer companies."""

from typing import Any

from django.db.models import QuerySet


def named(companies: QuerySet[Any], words: str) -> QuerySet[Any]:
    """Companies with these words in their name, by name; all of them without words."""
    return companies.filter(name__icontains=words.strip()) if words.strip() else companies
