"""Reads the guarantees back from the printed lines of a label draft."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import Final

from formulas.engine.label.model import Guarantee
from formulas.engine.label.rules import CHELATED, LABELS, PARTS, UNCLAIMED_SLOW_LABEL, WATER_SOLUBLE
from formulas.engine.label.text import HEADING

_WHOLE: Final = re.compile(r"(?P<label>\S.*?) \.+ (?P<pct>\d+(?:\.\d+)?)%")
_PART: Final = re.compile(r"    (?P<pct>\d+(?:\.\d+)?)% (?P<label>[^*]+)\*?")
_KEYS: Final = {
    **{label: key for key, label in LABELS.items()},
    UNCLAIMED_SLOW_LABEL: "N.slow",
    **{
        f"{adjective} {name}": key + ending
        for ending, adjective in PARTS
        for key, name in (CHELATED if ending == ".chelated" else WATER_SOLUBLE).items()
    },
}


def parse_guarantees(printed: str) -> tuple[Guarantee, ...]:
    """The guarantees of printed lines; ValueError for a line of the analysis it cannot read."""
    lines = printed.splitlines()
    found: list[Guarantee] = []
    whole: str | None = None
    for line in lines[lines.index(HEADING) + 1 :]:
        match = _PART.fullmatch(line) or _WHOLE.fullmatch(line)
        if match is None:
            break
        label = match["label"]
        if label not in _KEYS:
            raise ValueError(f"{label!r} is not a line of a guaranteed analysis.")
        is_part = line.startswith("    ")
        whole = whole if is_part else _KEYS[label]
        found.append(
            Guarantee(_KEYS[label], label, Decimal(match["pct"]), whole if is_part else None)
        )
    return tuple(found)
