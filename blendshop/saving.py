"""Saving a row: validated by its own model first, remembered with the person who acted."""

from typing import TypeVar

from django.core.exceptions import ValidationError
from django.db import models

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
        raise BadInput("The entry has fields that need correcting.", fields=sentences(error)) from (
            error
        )
    row._history_user = acting_user  # type: ignore[attr-defined] # read by simple_history
    if update_fields is None:
        row.save()
    else:
        row.save(update_fields=update_fields)
    return row


def sentences(error: ValidationError) -> dict[str, str]:
    """Field to message; what concerns the whole row stands under ``entry``."""
    return {
        "entry" if field == "__all__" else field: " ".join(messages)
        for field, messages in error.message_dict.items()
    }
