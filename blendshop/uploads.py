"""Files people send in: known by their first bytes, stored and sent back under a name of ours."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final, TypeVar

from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import UploadedFile
from django.db.models.fields.files import FieldFile
from django.http import HttpResponse
from django.utils.translation import gettext as _

from blendshop.downloads import private_file
from blendshop.front_door import MARK

ViewT = TypeVar("ViewT", bound=Callable[..., Any])
#: The other fields of a form with a file, and what wraps each part.
_BESIDE_THE_FILE: Final = 64_000
MB: Final = 1024 * 1024


@dataclass(frozen=True, slots=True)
class FileKind:
    """``start`` are the bytes every file of the kind begins with; ``word`` takes "a"."""

    word: str
    start: bytes
    suffix: str
    content_type: str


PDF: Final = FileKind("PDF", b"%PDF-", ".pdf", "application/pdf")
PNG: Final = FileKind("PNG", b"\x89PNG\r\n\x1a\n", ".png", "image/png")
JPEG: Final = FileKind("JPEG", b"\xff\xd8\xff", ".jpg", "image/jpeg")
_CONTENT_TYPES: Final = {kind.suffix: kind.content_type for kind in (PDF, PNG, JPEG)}


def takes_files(most_bytes: int) -> Callable[[ViewT], ViewT]:
    """View decorator: the body may be as large as one file of ``most_bytes`` and its form."""

    def marked(view: ViewT) -> ViewT:
        setattr(view, MARK, most_bytes + _BESIDE_THE_FILE)
        return view

    return marked


def accepted(
    file: UploadedFile[Any], kinds: Sequence[FileKind], *, name: str, what: str, most_mb: int
) -> UploadedFile[Any]:
    """The file as ``name`` with the suffix of its kind, whatever it was called.

    Raises ValidationError, calling it ``what``, if it is larger than ``most_mb`` or of none of
    the ``kinds``.
    """
    if (file.size or 0) > most_mb * MB:
        raise ValidationError(
            _("The %(what)s is larger than %(most_mb)s MB.") % {"what": what, "most_mb": most_mb}
        )
    start = file.read(max(len(kind.start) for kind in kinds))
    file.seek(0)
    found = next((kind for kind in kinds if start.startswith(kind.start)), None)
    if found is None:
        words = " nor ".join(f"a {kind.word}" for kind in kinds)
        raise ValidationError(_("This is neither %(words)s.") % {"words": words})
    file.name = f"{name}{found.suffix}"
    return file


def sent_back(stored: FieldFile, name: str, *, shown: bool = False) -> HttpResponse:
    """A stored file as ``name`` with its suffix; see ``private_file``."""
    suffix = Path(str(stored.name)).suffix
    content_type = _CONTENT_TYPES.get(suffix, "application/octet-stream")
    with stored.open("rb") as file:
        return private_file(file.read(), content_type, f"{name}{suffix}", shown=shown)
