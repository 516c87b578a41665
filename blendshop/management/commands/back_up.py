"""``manage.py back_up FILE``: database and media into one file."""

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from blendshop.backups.actions.backing_up import back_up
from blendshop.errors import DomainError


class Command(BaseCommand):
    help = "Write database and media into one file that manage.py restore reads."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument(
            "file", type=Path, help="the file to write, or a folder for a file named by the time"
        )
        parser.add_argument(
            "--keep", type=int, metavar="N", help="in the folder, keep only the newest N"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            made = back_up(options["file"], keep=options["keep"])
        except DomainError as error:
            raise CommandError(error.message) from error
        except OSError as error:
            raise CommandError(f"The backup could not be written: {error}") from error
        files = len(made.manifest.media)
        size = made.file.stat().st_size
        self.stdout.write(f"{made.file}: the database and {files} media files, {size:,} bytes.")
        for old in made.forgotten:
            self.stdout.write(f"Removed {old}.")
        if made.missing:
            names = ", ".join(made.missing[:5])
            self.stderr.write(
                f"Rows name {len(made.missing)} files that the media storage does not have: {names}"
            )
