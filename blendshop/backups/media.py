"""The files people sent in, through Django's storage: a folder or an object store alike."""

from __future__ import annotations

import contextlib
import shutil
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Final

from django.apps import apps
from django.core.files.storage import default_storage
from django.db import DatabaseError
from django.db.models import FileField

from blendshop.backups.archive import staged
from blendshop.backups.manifest import Content, content_of

#: Before a stored file's name in the archive.
PREFIX: Final = "media/"
_BLOCK: Final = 1 << 20


def stored_names(folder: str = "") -> Iterator[str]:
    """Every file below ``folder``; nothing when the folder was never made."""
    try:
        folders, files = default_storage.listdir(folder)
    except FileNotFoundError:
        return
    inside = f"{folder}/" if folder else ""
    yield from (inside + name for name in sorted(files) if name)
    for name in sorted(folders):
        yield from stored_names(inside + name)


def stage_media(folder: Path) -> tuple[Content, ...]:
    """A copy of every file in ``folder``, numbered from 1, with its size and sum."""
    contents = []
    for number, name in enumerate(stored_names(), start=1):
        path = staged(folder, number)
        with default_storage.open(name, "rb") as source, path.open("wb") as target:
            shutil.copyfileobj(source, target, _BLOCK)
        contents.append(content_of(path, PREFIX + name))
    return tuple(contents)


def missing_files(contents: Sequence[Content]) -> list[str]:
    """Files that rows of the database name and that are not among ``contents``."""
    there = {content.name for content in contents}
    return sorted({name for name in _named_by_rows() if PREFIX + name not in there})


def _named_by_rows() -> Iterator[str]:
    for model in apps.get_models():
        for field in model._meta.concrete_fields:
            if isinstance(field, FileField):
                named = model._base_manager.exclude(**{field.attname: ""})
                # A database not yet migrated lacks what this version adds.
                with contextlib.suppress(DatabaseError):
                    yield from filter(None, named.values_list(field.attname, flat=True))
