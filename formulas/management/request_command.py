"""Commands that answer one JSON request: read it, answer, print, and say how by exit status."""

import json
import sys
from abc import ABC, abstractmethod
from argparse import ArgumentParser
from pathlib import Path
from typing import Any, Generic, Protocol, TypeVar

from django.core.management.base import BaseCommand, CommandError

from blendshop.errors import BadInput
from formulas.contracts.deadline import TooLargeToDecide
from formulas.contracts.formulation import NoTrustworthyAnswer
from formulas.contracts.strict_json import read_json

#: Exit statuses that all of these commands share; 1 is each command's own "no".
FINE, BAD_REQUEST, FAILED = 0, 2, 3


class ContractAnswer(Protocol):
    """A typed answer that knows the JSON of its contract."""

    def contract_json(self) -> dict[str, Any]: ...


AnswerT = TypeVar("AnswerT", bound=ContractAnswer)


class RequestCommand(BaseCommand, ABC, Generic[AnswerT]):
    """``manage.py NAME REQUEST.json [--json]``; ``-`` reads standard input.

    With ``--json`` standard output holds the answer and nothing else. Exit status 2 for a bad
    request (its fields on standard error) or one too large to decide, 3 when the solver failed
    its own checks.
    """

    requires_system_checks = ()

    @abstractmethod
    def answer(self, body: Any) -> AnswerT:
        """The contract's answer to a parsed request."""

    @abstractmethod
    def table(self, answer: AnswerT) -> str:
        """The answer for reading."""

    def body(self, **options: Any) -> Any:
        """The parsed request; BadInput if it cannot be read."""
        if options["request"] is None:
            raise CommandError("Name a JSON file, or - for standard input.")
        return read_request_file(options["request"])

    def exit_status(self, answer: AnswerT) -> int:
        """0, or 1 where the answer is a "no"."""
        return FINE

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("request", nargs="?", help="a JSON file, or - for standard input")
        parser.add_argument("--json", action="store_true", help="print the answer as JSON")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            answer = self.answer(self.body(**options))
        except BadInput as error:
            self.stderr.write(complaint(error))
            sys.exit(BAD_REQUEST)
        except TooLargeToDecide as error:
            self.stderr.write(error.message)
            sys.exit(BAD_REQUEST)
        except NoTrustworthyAnswer as error:
            self.stderr.write(error.message)
            sys.exit(FAILED)
        if options["json"]:
            self.stdout.write(json.dumps(answer.contract_json(), indent=2, ensure_ascii=False))
        else:
            self.stdout.write(self.table(answer))
        if status := self.exit_status(answer):
            sys.exit(status)


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
