"""A plant out of one file."""

from __future__ import annotations

import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from django.core.exceptions import SuspiciousFileOperation
from django.core.files.utils import validate_file_name
from django.db import connection
from django.db.migrations.loader import MigrationLoader
from django.utils.translation import gettext as _

from blendshop.backups.actions.files import add_files, settle_files
from blendshop.backups.archive import read_manifest, staged, unpack_archive
from blendshop.backups.databases import check_dump, filled_table, load_database
from blendshop.backups.manifest import Manifest
from blendshop.backups.media import stored_names
from blendshop.errors import BadInput, NotAllowed

_NAMES: Final = {"postgresql": "PostgreSQL", "sqlite": "SQLite"}


@dataclass(frozen=True, slots=True)
class Restored:
    """``to_migrate`` are this version's migrations that the backup was made before."""

    manifest: Manifest
    to_migrate: Sequence[str]


def restore(file: Path, *, replace: bool = False) -> Restored:
    """Database and media as they were; everything is checked before anything is touched.

    Raises BadInput when the file is not a whole backup this version and this database can read,
    NotAllowed when a plant stands here already and ``replace`` was not said.
    """
    manifest = read_manifest(file)
    _hold_readable(manifest)
    _hold_names(manifest)
    if not replace:
        _hold_empty()
    with tempfile.TemporaryDirectory(prefix="restore-") as scratch:
        staging = Path(scratch)
        unpack_archive(file, staging)
        check_dump(staged(staging, 0))
        # New files first: whichever step fails, no row names a file that is not there.
        add_files(manifest.media, staging)
        load_database(staged(staging, 0), staging / "script")
        settle_files(manifest.media, staging)
    return Restored(manifest, sorted(_known_migrations() - set(manifest.migrations)))


def _hold_readable(manifest: Manifest) -> None:
    if manifest.engine != connection.vendor:
        raise BadInput(
            _(
                "The backup is of a %(theirs)s database and DATABASE_URL leads to %(ours)s: "
                "restore it into the same kind."
            )
            % {
                "theirs": _NAMES.get(manifest.engine, manifest.engine),
                "ours": _NAMES[connection.vendor],
            }
        )
    unknown = sorted(set(manifest.migrations) - _known_migrations())
    if unknown:
        raise BadInput(
            _(
                "The backup was made by a newer Blendshop (%(version)s, it has %(migration)s). "
                "Install that version, then restore."
            )
            % {"version": manifest.version, "migration": unknown[0]}
        )


def _hold_names(manifest: Manifest) -> None:
    """No name may lead out of the media storage."""
    for content in manifest.media:
        try:
            validate_file_name(content.name, allow_relative_path=True)
        except SuspiciousFileOperation as error:
            raise BadInput(
                _("%(name)s is not a name of a stored file.") % {"name": content.name}
            ) from error


def _hold_empty() -> None:
    """Neither rows nor files of a plant may be here."""
    table = filled_table()
    if table is not None:
        raise NotAllowed(
            _(
                "A plant stands in this database already (%(table)s has rows). "
                "--replace puts the backup in its place; back up what is there first."
            )
            % {"table": table}
        )
    name = next(stored_names(), None)
    if name is not None:
        raise NotAllowed(
            _(
                "The media storage has files already (%(name)s). "
                "--replace puts the backup's in their place; back up what is there first."
            )
            % {"name": name}
        )


def _known_migrations() -> set[str]:
    loader = MigrationLoader(None, ignore_no_migrations=True)
    return {".".join(key) for key in loader.disk_migrations}
