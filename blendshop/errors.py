"""Errors a person can do something about.

DomainError            a sentence for the user, with an HTTP status
├── NotAllowed         the role may not do this (403)
├── IllegalMove        the record's state does not allow it (409)
├── ChangedMeanwhile   somebody else was faster (409)
└── BadInput           one or more fields are wrong (400)

Beside where they arise: what is too large (413, 422), what has to wait (429).
"""

from collections.abc import Mapping


class DomainError(Exception):
    """Base of all errors that page and API show as a sentence."""

    code = "error"
    status = 400
    #: When to try again, where waiting is all it takes.
    retry_after_seconds: int | None = None

    def __init__(self, message: str, *, fields: Mapping[str, str] | None = None) -> None:
        self.message = message
        self.fields = dict(fields or {})
        super().__init__(message)

    @property
    def headers(self) -> dict[str, str]:
        """What an answer over HTTP says besides."""
        after = self.retry_after_seconds
        return {} if after is None else {"Retry-After": str(after)}


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
