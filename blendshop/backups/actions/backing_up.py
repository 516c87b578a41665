"""A plant into one file."""

from __future__ import annotations

import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from django.db import connection
from django.utils import timezone
from django.utils.translation import gettext as _

from blendshop import __version__
from blendshop.backups.archive import staged, write_archive
from blendshop.backups.databases import applied_migrations, dump_database
from blendshop.backups.manifest import Manifest, content_of
from blendshop.backups.media import missing_files, stage_media
from blendshop.errors import BadInput

DATED: Final = "blendshop-%Y-%m-%d-%H%M%S.tar.gz"
_DATED_GLOB: Final = "blendshop-????-??-??-??????.tar.gz"
_IN_ARCHIVE: Final = {"postgresql": "database.pgdump", "sqlite": "database.sqlite3"}


@dataclass(frozen=True, slots=True)
class BackedUp:
    """``missing`` are files that rows name and that the media storage does not have."""

    file: Path
    manifest: Manifest
    missing: Sequence[str]
    forgotten: Sequence[Path]


def back_up(to: Path, *, keep: int | None = None) -> BackedUp:
    """Database and media as one file: ``to``, or a dated file in the folder ``to``.

    The database is one moment's; media are copied after it, so every file that a row names is
    among them. With ``keep`` only so many of the folder's dated files stay, the newest. Raises
    BadInput or NotAllowed when the file cannot be made there.
    """
    folder = to if to.is_dir() else to.parent
    if not folder.is_dir():
        raise BadInput(_("There is no folder %(folder)s.") % {"folder": folder})
    if keep is not None and (keep < 1 or folder != to):
        raise BadInput(_("--keep needs a folder and a number of 1 or more."))
    now = timezone.now()
    file = to / now.strftime(DATED) if folder == to else to
    with tempfile.TemporaryDirectory(dir=folder, prefix=".backup-") as scratch:
        staging = Path(scratch)
        migrations = applied_migrations()
        dump_database(staged(staging, 0))
        media = stage_media(staging)
        manifest = Manifest(
            version=__version__,
            made_at=now.isoformat(timespec="seconds"),
            engine=connection.vendor,
            migrations=migrations,
            database=content_of(staged(staging, 0), _IN_ARCHIVE[connection.vendor]),
            media=media,
        )
        write_archive(file, manifest, staging)
    return BackedUp(file, manifest, missing_files(media), _forget_older(folder, keep))


def _forget_older(folder: Path, keep: int | None) -> list[Path]:
    """Dated backups beyond the newest ``keep``; their names sort by time."""
    if keep is None:
        return []
    older = sorted(folder.glob(_DATED_GLOB))[:-keep]
    for file in older:
        file.unlink()
    return older
