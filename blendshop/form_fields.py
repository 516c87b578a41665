"""Forms whose choices are known only when they are shown, with types the checker can follow.

Django's model forms and fields take their row's type for the checker only.
"""

from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING, Any

from django import forms
from django.db.models import QuerySet
from django.utils.functional import Promise

if TYPE_CHECKING:
    RowForm = forms.ModelForm[Any]
    RowChoice = forms.ModelChoiceField[Any]
    InlineRows = forms.BaseInlineFormSet[Any, Any, Any]
    RowSet = forms.BaseModelFormSet[Any, Any]
else:
    RowForm = forms.ModelForm
    RowChoice = forms.ModelChoiceField
    InlineRows = forms.BaseInlineFormSet
    RowSet = forms.BaseModelFormSet


def offer_rows(
    form: forms.BaseForm,
    name: str,
    rows: QuerySet[Any],
    *,
    label: Callable[[Any], str] | None = None,
) -> None:
    """Let the form's field ``name`` choose from these rows; ``label`` says a row in words."""
    field = form.fields[name]
    if not isinstance(field, forms.ModelChoiceField):
        raise TypeError(f"{name} does not choose a row.")
    field.queryset = rows
    if label is not None:
        setattr(field, "label_from_instance", label)  # noqa: B010 - Django's own hook, a method


def require_row(form: forms.BaseForm, name: str) -> None:
    """Leave out the empty line: one of the rows stands chosen from the start."""
    field = form.fields[name]
    if not isinstance(field, forms.ModelChoiceField):
        raise TypeError(f"{name} does not choose a row.")
    field.empty_label = None


def offered_rows(form: forms.BaseForm, name: str) -> QuerySet[Any]:
    """The rows that the form's field ``name`` chooses from."""
    field = form.fields[name]
    if not isinstance(field, forms.ModelChoiceField) or field.queryset is None:
        raise TypeError(f"{name} does not choose a row.")
    return field.queryset


def offer_choices(
    form: forms.BaseForm, name: str, choices: Iterable[tuple[str, str | Promise]]
) -> None:
    """Let the form's field ``name`` choose from these values, each with its words."""
    field = form.fields[name]
    if not isinstance(field, forms.ChoiceField):
        raise TypeError(f"{name} is not a choice.")
    field.choices = list(choices)
