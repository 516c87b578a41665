"""Reading a request for a command: a file, or ``-`` for standard input."""

import sys
from pathlib import Path
from typing import Any

from blendshop.errors import BadInput
from formulas.request_reading import read_json

#: Exit statuses of the commands that answer a request.
SOLVED, OUT_OF_REACH, BAD_REQUEST, FAILED = 0, 1, 2, 3


def read_request_file(name: str) -> Any:
    """The parsed JSON; BadInput if it cannot be read."""
    if name == "-":
        return read_json(sys.stdin.buffer.read())
    try:
        return read_json(Path(name).read_bytes())
    except OSError as error:
        raise BadInput(f"{name} cannot be read: {error.strerror}.") from error


def complaint(error: BadInput) -> str:
    """The error and its fields, one a line."""
    return "\n".join(
        [error.message, *(f"  {path}: {message}" for path, message in error.fields.items())]
    )
