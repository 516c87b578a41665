"""The file of a backup: a gzipped tar of the manifest, the database and the media, in that order.

Every file is staged in a folder first, under its number, so that a name from an archive is never a
path on this machine.
"""

from __future__ import annotations

import gzip
import hashlib
import os
import tarfile
import zlib
from io import BytesIO
from pathlib import Path
from typing import IO, Final

from django.utils.translation import gettext as _

from blendshop.backups.manifest import Content, Manifest
from blendshop.errors import BadInput, NotAllowed

MANIFEST: Final = "manifest.json"
_MOST_MANIFEST_BYTES: Final = 64 << 20
_BLOCK: Final = 1 << 20
_DAMAGED: Final = (tarfile.TarError, gzip.BadGzipFile, zlib.error, EOFError)


def staged(folder: Path, number: int) -> Path:
    """Where the archive's file with this number lies; 0 is the database, media follow."""
    return folder / f"{number:08d}"


def write_archive(file: Path, manifest: Manifest, folder: Path) -> None:
    """Write the staged files as ``file``: under another name until all of it is on the disk.

    Nobody but the owner may read it. Raises NotAllowed when ``file`` is there already.
    """
    if file.exists():
        raise NotAllowed(_("%(file)s is there already: name another file.") % {"file": file})
    part = file.with_name(f".{file.name}.part")
    part.unlink(missing_ok=True)
    try:
        with open(os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as raw:
            with tarfile.open(fileobj=raw, mode="w:gz", compresslevel=6) as tar:
                _add(tar, MANIFEST, BytesIO(whole := manifest.to_json()), len(whole))
                for number, content in enumerate((manifest.database, *manifest.media)):
                    with staged(folder, number).open("rb") as source:
                        _add(tar, content.name, source, content.size)
            raw.flush()
            os.fsync(raw.fileno())
        part.replace(file)
    finally:
        part.unlink(missing_ok=True)


def read_manifest(file: Path) -> Manifest:
    """The manifest alone; raises BadInput when the file is not a backup."""
    try:
        with tarfile.open(file, "r:gz") as tar:
            return _manifest(tar)
    except FileNotFoundError as error:
        raise BadInput(_("There is no file %(file)s.") % {"file": file}) from error
    except _DAMAGED as error:
        raise BadInput(
            _("%(file)s is not a backup of Blendshop, or is damaged.") % {"file": file}
        ) from error


def unpack_archive(file: Path, folder: Path) -> Manifest:
    """Stage every file and hold it to its size and sum.

    Raises BadInput when anything is missing, more than listed, or other than the manifest says.
    """
    try:
        with tarfile.open(file, "r:gz") as tar:
            manifest = _manifest(tar)
            for number, content in enumerate((manifest.database, *manifest.media)):
                _stage(tar, content, staged(folder, number))
            if tar.next() is not None:
                raise BadInput(_("The backup holds more than its manifest lists."))
            return manifest
    except _DAMAGED as error:
        raise BadInput(
            _("%(file)s is damaged: it cannot be read to its end.") % {"file": file}
        ) from error


def _add(tar: tarfile.TarFile, name: str, source: IO[bytes], size: int) -> None:
    entry = tarfile.TarInfo(name)
    entry.size = size
    entry.mode = 0o600
    tar.addfile(entry, source)


def _manifest(tar: tarfile.TarFile) -> Manifest:
    first = tar.next()
    source = tar.extractfile(first) if first and first.name == MANIFEST else None
    if source is None:
        raise BadInput(_("This is not a backup of Blendshop: it does not begin with a manifest."))
    return Manifest.from_json(source.read(_MOST_MANIFEST_BYTES))


def _stage(tar: tarfile.TarFile, content: Content, path: Path) -> None:
    entry = tar.next()
    source = tar.extractfile(entry) if entry and entry.name == content.name else None
    if source is None:
        raise BadInput(
            _("The backup is damaged: %(name)s is not where it should be.") % {"name": content.name}
        )
    digest = hashlib.sha256()
    size = 0
    with path.open("wb") as target:
        while block := source.read(_BLOCK):
            size += len(block)
            digest.update(block)
            target.write(block)
    if (size, digest.hexdigest()) != (content.size, content.sha256):
        raise BadInput(
            _("The backup is damaged: %(name)s is not what was written.") % {"name": content.name}
        )
