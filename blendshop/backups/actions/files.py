"""The media storage as a backup has it."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from pathlib import Path
from typing import Final

from django.core.files.base import File
from django.core.files.storage import default_storage
from django.utils.translation import gettext as _

from blendshop.backups.archive import staged
from blendshop.backups.manifest import Content
from blendshop.backups.media import PREFIX, stored_names
from blendshop.errors import IllegalMove

_BLOCK: Final = 1 << 20


def add_files(contents: Sequence[Content], folder: Path) -> None:
    """Put in what is not there yet; what is there stays as it is."""
    for number, content in enumerate(contents, start=1):
        name = _name(content)
        if not default_storage.exists(name):
            _store(name, staged(folder, number))


def settle_files(contents: Sequence[Content], folder: Path) -> None:
    """After this the storage holds these files and no other."""
    for number, content in enumerate(contents, start=1):
        name = _name(content)
        if not default_storage.exists(name) or _sum_of(name) != content.sha256:
            default_storage.delete(name)
            _store(name, staged(folder, number))
    for name in set(stored_names()) - {_name(content) for content in contents}:
        default_storage.delete(name)


def _name(content: Content) -> str:
    return content.name.removeprefix(PREFIX)


def _store(name: str, path: Path) -> None:
    with path.open("rb") as source:
        written = default_storage.save(name, File(source))
    if written != name:
        default_storage.delete(written)
        raise IllegalMove(
            _("%(name)s was written by somebody else meanwhile: restore again.") % {"name": name}
        )


def _sum_of(name: str) -> str:
    digest = hashlib.sha256()
    with default_storage.open(name, "rb") as source:
        while block := source.read(_BLOCK):
            digest.update(block)
    return digest.hexdigest()
