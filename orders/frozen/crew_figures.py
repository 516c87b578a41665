"""What a crew sheet prints of the product and its application, as it stood when it was made."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from blendshop.snapshot import Snapshot
from formulas.answers.spray import SprayAnswer


@dataclass(frozen=True, slots=True, kw_only=True)
class CrewFigures(Snapshot):
    """``CrewSheet.figures``. ``analysis`` is in percent by weight, as the label's rate goes by it.

    ``lot`` is the number of the batch, empty where none is made yet. ``guarantees`` are name and
    figure of each line of the label; ``cautions`` the label's sentences in the words of the house,
    which a reader's language translates. No price and no share of a stock is in it.
    """

    product_name: str
    grade: str
    lot: str
    analysis: Mapping[str, float]
    density_lb_per_gal: float
    guarantees: tuple[tuple[str, str], ...]
    derived_from: tuple[str, ...]
    cautions: tuple[str, ...]
    spray: SprayAnswer
