"""Rows that are written once. A change is a new row; nothing is edited or deleted."""

from typing import Any, NoReturn

from django.db import models


class WrittenOnce(RuntimeError):
    """Somebody tried to edit or delete a row that trust depends on."""


class WrittenOnceQuerySet(models.QuerySet[Any]):
    def update(self, **kwargs: Any) -> NoReturn:
        raise WrittenOnce(f"{self.model._meta.verbose_name} rows are never edited.")

    def delete(self) -> NoReturn:
        raise WrittenOnce(f"{self.model._meta.verbose_name} rows are never deleted.")

    def bulk_update(self, *args: Any, **kwargs: Any) -> NoReturn:
        raise WrittenOnce(f"{self.model._meta.verbose_name} rows are never edited.")


class WrittenOnceModel(models.Model):
    """Base for revisions, cost entries, events and issued papers."""

    objects = WrittenOnceQuerySet.as_manager()

    class Meta:
        abstract = True

    def save(self, *args: Any, **kwargs: Any) -> None:
        if not self._state.adding:
            raise WrittenOnce(f"This {self._meta.verbose_name} is final; write a new one.")
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> NoReturn:
        raise WrittenOnce(f"A {self._meta.verbose_name} is never deleted.")
