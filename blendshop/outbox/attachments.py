"""Files that go with mails: kept once, where they belong, and read when a mail goes out."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from django.utils.translation import gettext as _


@dataclass(frozen=True, slots=True)
class AttachedFile:
    """What the mail carries."""

    name: str
    content: bytes
    media_type: str


_READERS: Final[dict[str, Callable[[str], AttachedFile | None]]] = {}


def register_attachment(kind: str, read: Callable[[str], AttachedFile | None]) -> None:
    """``read`` finds a file of this kind by its key, or None; call this in ``AppConfig.ready``."""
    _READERS[kind] = read


def attached_file(kind: str, key: str) -> AttachedFile:
    """The file; ValueError where it is not found, as no other try would find it."""
    read = _READERS.get(kind)
    file = read(key) if read else None
    if file is None:
        raise ValueError(_("The paper to go with it is not found."))
    return file
