"""How a customer sprays, as it was when something was quoted for it."""

from __future__ import annotations

from dataclasses import dataclass

from blendshop.snapshot import Snapshot


@dataclass(frozen=True, slots=True, kw_only=True)
class Spraying(Snapshot):
    """Volume in gallons per 1,000 sq ft, None where no wish ever said it, and the place.

    ``is_typed`` when the place was said and is not the address it was shipped to; without a state
    no place is known. The rate is the quote line's own.
    """

    carrier_gal_per_1000sqft: float | None
    state: str
    county: str
    place: str
    is_typed: bool
