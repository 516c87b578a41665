"""Set-up of the formulas' tests: the simple catalogue, and a command run on a request file."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command

from formulas.models import BaseStock
from tests.factories import make_simple_catalogue


@pytest.fixture
def catalogue(db: None) -> dict[str, BaseStock]:
    """Five stocks by their codes."""
    return make_simple_catalogue()


@pytest.fixture
def run(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Callable[..., tuple[int, str, str]]:
    """``run("formulate", body, "--json")`` gives exit status, standard output and error."""

    def run_command(name: str, body: Any, *flags: str) -> tuple[int, str, str]:
        file = tmp_path / "request.json"
        file.write_text(body if isinstance(body, str) else json.dumps(body))
        status = 0
        try:
            call_command(name, str(file), *flags)
        except SystemExit as stopped:
            status = stopped.code  # type: ignore[assignment]
        out, err = capsys.readouterr()
        return status, out, err

    return run_command
