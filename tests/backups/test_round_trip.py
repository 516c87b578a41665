"""A plant that was backed up, changed and restored is the one that was backed up."""

from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.db import connection

from blendshop.accounts.models import Company, User
from orders.models import StockLot
from tests.backups.conftest import all_files, all_rows
from tests.databases import own_database


def command(name, *arguments, **options):
    said = StringIO()
    call_command(name, *arguments, stdout=said, stderr=said, **options)
    return said.getvalue()


def test_every_row_and_file_is_as_it_was(own_plant, media, tmp_path):
    lot = own_plant()
    before, files = all_rows(), all_files(media)
    assert len(before["orders_order"]) == len(files) == 1
    backup = tmp_path / "plant.tar.gz"
    assert "1 media files" in command("back_up", str(backup))
    assert backup.stat().st_mode & 0o077 == 0

    Company.objects.update(name="Renamed Turf")
    StockLot.objects.update(location="moved after the backup")
    User.objects.create_user("new@plant.example")
    (media / lot.certificate.name).write_bytes(b"other")
    (media / "certificates" / "later.pdf").write_bytes(b"%PDF later")
    assert all_rows() != before

    said = command("restore", str(backup), replace=True)

    assert "1 media files" in said
    assert "migrate" not in said
    assert all_rows() == before
    assert all_files(media) == files
    # Keys go on counting behind the restored rows.
    assert User.objects.create_user("next@plant.example").pk not in {
        row[0] for row in before["accounts_user"]
    }


def test_a_plant_is_moved_into_a_database_without_tables(own_plant, media, tmp_path):
    own_plant()
    before = all_rows()
    backup = tmp_path / "plant.tar.gz"
    command("back_up", str(backup))
    media.rename(tmp_path / "old media")
    with own_database(tmp_path, "moved", empty=True):
        command("restore", str(backup))
        assert all_rows() == before
        with StockLot.objects.exclude(certificate="").get().certificate.open() as file:
            assert file.read() == b"%PDF-1.7 first"


def test_a_plant_in_use_is_replaced_only_when_that_was_said(own_plant, media, tmp_path):
    backup = tmp_path / "empty.tar.gz"
    command("back_up", str(backup))
    command("restore", str(backup))  # onto the empty one it came from
    own_plant()
    before, files = all_rows(), all_files(media)
    with pytest.raises(CommandError, match=r"A plant stands in this database .* --replace"):
        command("restore", str(backup))
    assert (all_rows(), all_files(media)) == (before, files)
    command("restore", str(backup), replace=True)
    assert not User.objects.exists()
    assert all_files(media) == {}


def test_files_alone_are_not_overwritten_either(own_plant, media, tmp_path):
    command("back_up", str(tmp_path / "empty.tar.gz"))
    media.mkdir()
    (media / "left.pdf").write_bytes(b"%PDF left")
    with pytest.raises(CommandError, match=r"left\.pdf"):
        command("restore", str(tmp_path / "empty.tar.gz"))


def test_a_failed_restore_leaves_the_plant_as_it_was(own_plant, tmp_path, monkeypatch):
    own_plant()
    backup = tmp_path / "plant.tar.gz"
    command("back_up", str(backup))
    Company.objects.update(name="Written after")
    monkeypatch.setattr("blendshop.backups.databases._PATIENCE_S", 1)
    with other_connection_writing(tmp_path), pytest.raises(CommandError, match="in use"):
        command("restore", str(backup), replace=True)
    assert Company.objects.get().name == "Written after"


def other_connection_writing(tmp_path):
    """Somebody else in the middle of a transaction on the same database."""
    other = connection.copy()
    other.ensure_connection()

    class Writing:
        def __enter__(self):
            other.set_autocommit(False, force_begin_transaction_with_broken_autocommit=True)
            with other.cursor() as cursor:
                cursor.execute("UPDATE accounts_company SET phone = '1'")

        def __exit__(self, *raised):
            other.rollback()
            other.close()

    return Writing()


def test_a_file_that_a_row_names_and_nobody_has_is_said(own_plant, media, tmp_path):
    lot = own_plant()
    (media / lot.certificate.name).unlink()
    assert lot.certificate.name in command("back_up", str(tmp_path / "plant.tar.gz"))


def test_a_folder_gets_dated_backups_and_keeps_the_newest(own_plant, tmp_path):
    folder = tmp_path / "backups"
    folder.mkdir()
    for day in (1, 2, 3):
        (folder / f"blendshop-2026-01-0{day}-030000.tar.gz").touch()
    (folder / "before the move.tar.gz").touch()
    command("back_up", str(folder), keep=2)
    kept = sorted(path.name for path in folder.iterdir())
    assert kept[0] == "before the move.tar.gz"
    assert kept[1] == "blendshop-2026-01-03-030000.tar.gz"
    assert len(kept) == 3
    with pytest.raises(CommandError, match="--keep needs a folder"):
        command("back_up", str(tmp_path / "plant.tar.gz"), keep=2)
