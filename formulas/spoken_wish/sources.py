"""What a blend can be asked to be without, beyond nutrients: sources, by what stocks hold."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from typing import Final, Protocol

#: A source as people call it, and the trait (``traits.toml``) of the stocks that hold it.
SOURCES: Final[Mapping[str, str]] = {
    "water": "water",
    "urea": "urea",
    "nitrates": "nitrate",
    "nitrate": "nitrate",
    "ammonium": "ammonium",
    "ammonia": "ammonium",
    "triazone": "triazone",
    "sulfate": "sulfate",
    "thiosulfate": "thiosulfate",
    "chelates": "chelate",
    "edta": "edta_iron",
    "uan": "uan",
}
#: No trait of one stock, but what its name begins with.
_NAMED: Final = frozenset({"uan"})


class NamedStock(Protocol):
    """What has to be known of a stock to say what it holds."""

    @property
    def code(self) -> str: ...

    @property
    def name(self) -> str: ...

    @property
    def traits(self) -> Collection[str]: ...


def stocks_of(source: str, stocks: Iterable[NamedStock]) -> tuple[str, ...]:
    """Codes of the stocks that hold a source: by trait, by name, or the stock of that code."""
    return tuple(stock.code for stock in stocks if _holds(stock, source))


def _holds(stock: NamedStock, source: str) -> bool:
    if source in _NAMED:
        return stock.name.lower().split()[:1] == [source]
    return SOURCES.get(source) in stock.traits or stock.code == source
