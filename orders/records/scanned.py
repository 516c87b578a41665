"""The number behind a code that was scanned: our codes on papers and packages hold an address."""

from __future__ import annotations

from typing import Final
from urllib.parse import urlsplit

from django.urls import Resolver404, resolve

#: An address with the host of a plant and a number of ours is far shorter.
LONGEST_SCANNED: Final = 300
#: Pages of one record, and which part of their address is its number.
_NUMBERS: Final = {
    "package_page": "serial",
    "part_page": "number",
    "batch_detail": "number",
    "lot_detail": "code",
    "order_detail": "number",
    "quote_detail": "number",
}


def scanned_number(text: str) -> str:
    """Serial, lot, batch, order or quote of an address of ours; any other text as it is.

    Of whichever host it names: the plant's may have had another one when the code was printed.
    """
    text = text.strip()
    if not text.lower().startswith(("http://", "https://")):
        return text
    try:
        match = resolve(urlsplit(text).path)
    except (Resolver404, ValueError):  # some other address, or none at all
        return text
    part = _NUMBERS.get(match.url_name or "")
    return text if part is None else str(match.kwargs[part])
