"""The API's published description, made once."""

import io
from typing import Any

import pytest
import yaml
from django.core.management import call_command


@pytest.fixture(scope="session")
def schema() -> dict[str, Any]:
    """The published description; making it fails on any warning."""
    out = io.StringIO()
    call_command("spectacular", "--validate", "--fail-on-warn", stdout=out)
    found: dict[str, Any] = yaml.safe_load(out.getvalue())
    return found
