"""What is not a whole backup of this kind of plant is refused before anything is touched."""

import dataclasses
import io
import tarfile

import pytest
from django.db import connection

from blendshop.backups.actions.backing_up import back_up
from blendshop.backups.actions.restoring import restore
from blendshop.backups.archive import MANIFEST
from blendshop.backups.manifest import Manifest
from blendshop.errors import BadInput, IllegalMove, NotAllowed


@pytest.fixture
def backup(own_plant, media, tmp_path):
    media.mkdir()
    (media / "certificate.pdf").write_bytes(b"%PDF" + b"x" * 5000)
    file = tmp_path / "plant.tar.gz"
    back_up(file)
    (media / "certificate.pdf").unlink()
    return file


def rewritten(file, change):
    """The archive with ``change`` applied to its list of (name, bytes)."""
    with tarfile.open(file) as tar:
        members = [(entry.name, tar.extractfile(entry).read()) for entry in tar]
    with tarfile.open(file, "w:gz") as tar:
        for name, content in change(members):
            entry = tarfile.TarInfo(name)
            entry.size = len(content)
            tar.addfile(entry, io.BytesIO(content))


def with_manifest(file, **changes):
    rewritten(
        file,
        lambda members: [
            (
                MANIFEST,
                dataclasses.replace(Manifest.from_json(members[0][1]), **changes).to_json(),
            ),
            *members[1:],
        ],
    )


def other_bytes(members):
    return [*members[:-1], (members[-1][0], members[-1][1][:-1] + b"y")]


def other_database(members):
    return [members[0], (members[1][0], b"z" + members[1][1][1:]), *members[2:]]


@pytest.mark.parametrize(
    ("change", "why"),
    [
        (other_bytes, "certificate.pdf is not what was written"),
        (other_database, "database.* is not what was written"),
        (lambda members: members[:-1], "certificate.pdf is not where it should be"),
        (lambda members: [*members, ("more", b"more")], "more than its manifest lists"),
        (lambda members: members[1:], "does not begin with a manifest"),
        (lambda members: [(MANIFEST, b"{"), *members[1:]], "manifest cannot be read"),
        (lambda members: [(MANIFEST, b'{"form": "x"}'), *members[1:]], "not a backup"),
    ],
)
def test_a_damaged_backup_changes_nothing(backup, media, change, why):
    rewritten(backup, change)
    with pytest.raises(BadInput, match=why):
        restore(backup)
    assert list(media.iterdir()) == []


def test_half_a_file_is_no_backup(backup, media):
    whole = backup.read_bytes()
    backup.write_bytes(whole[: len(whole) // 2])
    with pytest.raises(BadInput, match="damaged"):
        restore(backup)
    backup.write_bytes(b"%PDF-1.7")
    with pytest.raises(BadInput, match="not a backup"):
        restore(backup)
    assert list(media.iterdir()) == []


def test_a_backup_of_another_kind_of_database_is_refused(backup):
    other = {"postgresql": "sqlite", "sqlite": "postgresql"}[connection.vendor]
    with_manifest(backup, engine=other)
    with pytest.raises(BadInput, match="restore it into the same kind"):
        restore(backup)


def test_a_newer_backup_names_the_version_to_install(backup):
    with_manifest(backup, version="9.9", migrations=("orders.9999_later",))
    with pytest.raises(BadInput, match=r"newer Blendshop \(9\.9, it has orders\.9999_later\)"):
        restore(backup)


def test_an_older_backup_is_restored_and_asks_for_its_migrations(backup):
    with_manifest(backup, migrations=("orders.0001_initial",))
    assert "orders.0002_tank_tolerance" in restore(backup).to_migrate


def test_a_backup_is_never_written_over_another(backup):
    content = backup.read_bytes()
    with pytest.raises(NotAllowed, match="is there already"):
        back_up(backup)
    assert backup.read_bytes() == content


def test_a_backup_that_fails_leaves_no_file(own_plant, media, tmp_path, monkeypatch):
    def fails(*_):
        raise IllegalMove("pg_dump stopped")

    folder = tmp_path / "backups"
    folder.mkdir()
    monkeypatch.setattr("blendshop.backups.archive._add", fails)
    with pytest.raises(IllegalMove):
        back_up(folder)
    assert list(folder.iterdir()) == []


def test_a_name_in_an_archive_is_never_a_path(backup, media, tmp_path):
    """Django's storage refuses a name that leads out of its folder."""
    outside = tmp_path / "outside"

    def escaping(members):
        manifest = Manifest.from_json(members[0][1])
        name = f"media/../{outside.name}"
        content = dataclasses.replace(manifest.media[0], name=name)
        return [
            (MANIFEST, dataclasses.replace(manifest, media=(content,)).to_json()),
            members[1],
            (name, members[2][1]),
        ]

    rewritten(backup, escaping)
    with pytest.raises(BadInput, match="not a name of a stored file"):
        restore(backup)
    assert not outside.exists()
