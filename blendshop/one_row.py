"""Tables with a single row: what a plant sets once and edits ever after."""

from typing import Any, Self

from django.db import models


class OneRowModel(models.Model):
    """The row has the key 1; a check on the table of each model holds it there."""

    class Meta:
        abstract = True

    def save(self, *args: Any, **kwargs: Any) -> None:
        self.pk = 1
        super().save(*args, **kwargs)

    @classmethod
    def stored(cls) -> Self | None:
        """The row, or None while nobody has set it."""
        return cls._default_manager.filter(pk=1).first()
