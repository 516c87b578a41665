"""Saving a row: validated by its own model first, remembered with the person who acted."""

from typing import Protocol, TypeVar, cast

from django.core.exceptions import ValidationError
from django.db import models
from django.utils.translation import gettext as _

from blendshop.accounts.models import User
from blendshop.errors import BadInput

Row = TypeVar("Row", bound=models.Model)


def save_valid(row: Row, acting_user: User, *, update_fields: list[str] | None = None) -> Row:
    """Save a row that its model's own rules accept; BadInput names the fields otherwise.

    ``acting_user`` is who the row's history names.
    """
    try:
        row.full_clean()
    except ValidationError as error:
        raise BadInput(
            _("The entry has fields that need correcting."), fields=sentences(error)
        ) from error
    name_in_history(row, acting_user)
    if update_fields is None:
        row.save()
    else:
        row.save(update_fields=update_fields)
    return row


class _Remembered(Protocol):
    _history_user: User


def name_in_history(row: models.Model, acting_user: User) -> None:
    """Whom the row's history names for what is done to it next; simple_history reads it there."""
    cast("_Remembered", row)._history_user = acting_user


def sentences(error: ValidationError) -> dict[str, str]:
    """Field to message; what concerns the whole row stands under ``entry``."""
    return {
        "entry" if field == "__all__" else field: " ".join(messages)
        for field, messages in error.message_dict.items()
    }
