"""Errors a person can do something about.

DomainError            a sentence for the user, with an HTTP status
├── NotAllowed         the role may not do this (403)
├── IllegalMove        the record's state does not allow it (409)
├── ChangedMeanwhile   somebody else was faster (409)
└── BadInput           one or more fields are wrong (400)
"""

from collections.abc import Mapping


class DomainError(Exception):
    """Base of all errors that page and API show as a sentence."""

    code = "error"
    status = 400

    def __init__(self, message: str, *, fields: Mapping[str, str] | None = None) -> None:
        self.message = message
        self.fields = dict(fields or {})
        super().__init__(message)


class NotAllowed(DomainError):
    code = "not_allowed"
    status = 403


class IllegalMove(DomainError):
    code = "illegal_move"
    status = 409


class ChangedMeanwhile(DomainError):
    code = "changed_meanwhile"
    status = 409


class BadInput(DomainError):
    code = "bad_input"
    status = 400
