"""What a backup says of itself: the first file of the archive, read before anything else."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any, Final, Self

from django.utils.translation import gettext as _

from blendshop.errors import BadInput

FORM: Final = "blendshop backup"
FORM_VERSION: Final = 1
_BLOCK: Final = 1 << 20


@dataclass(frozen=True, slots=True)
class Content:
    """One file of the archive: ``size`` in bytes, ``sha256`` as 64 hexadecimal digits."""

    name: str
    size: int
    sha256: str


@dataclass(frozen=True, slots=True)
class Manifest:
    """``engine`` is Django's vendor name; ``migrations`` are the applied ones as ``app.name``."""

    version: str
    made_at: str
    engine: str
    migrations: tuple[str, ...]
    database: Content
    media: tuple[Content, ...]

    def to_json(self) -> bytes:
        stands = {"form": FORM, "form_version": FORM_VERSION, **asdict(self)}
        return (json.dumps(stands, indent=1) + "\n").encode()

    @classmethod
    def from_json(cls, raw: bytes) -> Self:
        """Raises BadInput when these are not the bytes ``to_json`` writes."""
        try:
            stands = json.loads(raw)
            if stands["form"] != FORM:
                raise BadInput(_("This is not a backup of Blendshop."))
            if stands["form_version"] != FORM_VERSION:
                raise BadInput(
                    _(
                        "The backup has form %(form)s and this version of Blendshop reads form "
                        "%(ours)s. Restore it with the version that made it."
                    )
                    % {"form": stands["form_version"], "ours": FORM_VERSION}
                )
            return cls(
                version=str(stands["version"]),
                made_at=str(stands["made_at"]),
                engine=str(stands["engine"]),
                migrations=tuple(map(str, stands["migrations"])),
                database=_content(stands["database"]),
                media=tuple(_content(one) for one in stands["media"]),
            )
        except (ValueError, KeyError, TypeError) as error:
            raise BadInput(
                _("The backup's manifest cannot be read: the file is damaged.")
            ) from error


def content_of(path: Path, name: str) -> Content:
    """The file at ``path`` as it will be called in the archive."""
    digest = hashlib.sha256()
    with path.open("rb") as file:
        while block := file.read(_BLOCK):
            digest.update(block)
    return Content(name, path.stat().st_size, digest.hexdigest())


def _content(stands: Mapping[str, Any]) -> Content:
    return Content(str(stands["name"]), int(stands["size"]), str(stands["sha256"]))
