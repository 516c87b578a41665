"""What the database itself promises, for every table of ours."""

from collections.abc import Iterator
from io import StringIO

import pytest
from django.apps import apps
from django.core.management import call_command
from django.db import models

OURS = ("accounts", "formulas", "jobs", "long_work", "notices", "orders", "outbox")


def _models() -> Iterator[type[models.Model]]:
    for label in OURS:
        for model in apps.get_app_config(label).get_models():
            if not model.__name__.startswith("Historical"):
                yield model


def test_every_constraint_says_something_to_a_person() -> None:
    silent = [
        constraint.name
        for model in _models()
        for constraint in model._meta.constraints
        if constraint.violation_error_message == constraint.default_violation_error_message
    ]
    assert silent == []


def test_decimals_fit_what_sqlite_can_hold_exactly() -> None:
    """SQLite keeps decimals as 8-byte reals: 15 digits survive, more are silently lost."""
    too_wide = [
        f"{model.__name__}.{field.name}"
        for model in _models()
        for field in model._meta.get_fields()
        if isinstance(field, models.DecimalField) and field.max_digits > 15
    ]
    assert too_wide == []


def test_models_and_migrations_agree(db: None) -> None:
    out = StringIO()
    call_command("makemigrations", "--check", "--dry-run", stdout=out)
    assert "No changes detected" in out.getvalue()


@pytest.mark.parametrize("model", list(_models()), ids=lambda model: model.__name__)
def test_every_model_can_be_printed(model: type[models.Model]) -> None:
    assert model.__str__ is not models.Model.__str__
