"""Saved recipes as arrays, read from blocks that stand packed beside the revisions.

A revision is never edited, so a block is packed when it is first asked for and whenever revisions
were added to its range; six hundred thousand lines are then a few dozen rows to read.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import numpy.typing as npt
from django.db.models import Count, F

from formulas.models import BlendRevision, RecipeBlock, RevisionLine
from formulas.models.repricing import BLOCK_SIZE

Floats = npt.NDArray[np.float64]
Integers = npt.NDArray[np.int64]

#: The arrays of a block in the order in which they are packed, little-endian.
_INTEGER: Final = np.dtype("<i8")
_FLOAT: Final = np.dtype("<f8")


@dataclass(frozen=True, slots=True)
class Recipes:
    """Recipes one behind the other: ``line_counts`` lines of each, in the order they were written.

    ``pct`` is percent by weight of the stock with that key.
    """

    revision_ids: Integers
    density_lb_per_gal: Floats
    line_counts: Integers
    stock_ids: Integers
    pct: Floats

    def packed(self) -> bytes:
        """All arrays as bytes, behind their two lengths."""
        lengths = np.array([len(self.revision_ids), len(self.stock_ids)], dtype=_INTEGER)
        integers = (lengths, self.revision_ids, self.line_counts, self.stock_ids)
        floats = (self.density_lb_per_gal, self.pct)
        return b"".join(
            [
                *(values.astype(_INTEGER).tobytes() for values in integers),
                *(values.astype(_FLOAT).tobytes() for values in floats),
            ]
        )

    @classmethod
    def unpacked(cls, packed: bytes | memoryview) -> Recipes:
        """The arrays of ``packed``, without copying them."""
        recipes, lines = (int(length) for length in np.frombuffer(packed, _INTEGER, count=2))
        integers = np.frombuffer(packed, _INTEGER, count=2 * recipes + lines, offset=16)
        floats = np.frombuffer(packed, _FLOAT, offset=16 + integers.nbytes)
        return cls(
            revision_ids=integers[:recipes],
            line_counts=integers[recipes : 2 * recipes],
            stock_ids=integers[2 * recipes :],
            density_lb_per_gal=floats[:recipes],
            pct=floats[recipes:],
        )

    @classmethod
    def together(cls, parts: list[Recipes]) -> Recipes:
        """One behind the other; of nothing none."""
        return cls(
            *(
                np.concatenate([getattr(part, name) for part in parts] or [np.empty(0, kind)])
                for name, kind in (
                    ("revision_ids", _INTEGER),
                    ("density_lb_per_gal", _FLOAT),
                    ("line_counts", _INTEGER),
                    ("stock_ids", _INTEGER),
                    ("pct", _FLOAT),
                )
            )
        )


def last_block() -> int:
    """The number of the block with the newest revision; -1 without any."""
    newest = BlendRevision.objects.order_by("-pk").values_list("pk", flat=True).first()
    return -1 if newest is None else newest // BLOCK_SIZE


def revisions_by_block(first: int, last: int) -> Mapping[int, int]:
    """How many revisions there are in each block of a range that has any."""
    in_range = BlendRevision.objects.filter(
        pk__gte=first * BLOCK_SIZE, pk__lt=(last + 1) * BLOCK_SIZE
    )
    counted = in_range.order_by().values(block=F("pk") / BLOCK_SIZE).annotate(number=Count("pk"))
    return dict(counted.values_list("block", "number"))


def standing_blocks(first: int, last: int) -> Iterator[tuple[int, int, Any]]:
    """Number, revisions and bytes of the packed blocks of a range."""
    rows = RecipeBlock.objects.filter(number__range=(first, last)).order_by("number")
    return rows.values_list("number", "revisions", "packed").iterator()


def read_recipes(block: int) -> Recipes:
    """The recipes of a block from the lines themselves."""
    ids = (block * BLOCK_SIZE, (block + 1) * BLOCK_SIZE - 1)
    revisions = np.array(
        list(
            BlendRevision.objects.filter(pk__range=ids)
            .order_by("pk")
            .values_list("pk", "density_lb_per_gal")
        ),
        dtype=[("pk", _INTEGER), ("density", _FLOAT)],
    )
    lines = np.array(
        list(
            RevisionLine.objects.filter(revision_id__gte=ids[0], revision_id__lte=ids[1])
            .order_by("revision_id", "pk")
            .values_list("revision_id", "stock_id", "pct")
        ),
        dtype=[("revision", _INTEGER), ("stock", _INTEGER), ("pct", _FLOAT)],
    )
    place = np.searchsorted(revisions["pk"], lines["revision"])
    return Recipes(
        revision_ids=revisions["pk"],
        density_lb_per_gal=revisions["density"],
        line_counts=np.bincount(place, minlength=len(revisions)),
        stock_ids=lines["stock"],
        pct=lines["pct"],
    )
