"""Season programs with acres: what customers treat this year and next. Invented."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from orders.demo.year.people_and_places import FALL, HALF, IRON, SPRING

NOTE: Final = "Demo, invented."


@dataclass(frozen=True, slots=True)
class Round:
    """A round: month and day, blend, pounds of nitrogen on 1,000 sq ft."""

    name: str
    month: int
    day: int
    blend: str
    rate: float


@dataclass(frozen=True, slots=True)
class Season:
    """A customer's program: properties by name with acres, grass and gal of spray on 1,000 sq ft.

    ``is_reserved``: what is to come is reserved as a standing order.
    """

    customer: str
    name: str
    properties: tuple[tuple[str, float, str, float], ...]
    rounds: tuple[Round, ...]
    is_reserved: bool


_EARLY: Final = Round("Early spring", 3, 22, SPRING, 0.6)
_LATE_SPRING: Final = Round("Late spring", 5, 10, HALF, 0.7)
_SUMMER: Final = Round("Early summer", 6, 21, IRON, 0.4)
_FALL: Final = Round("Early fall", 9, 6, HALF, 0.7)
_LAST: Final = Round("Fall potash", 10, 11, FALL, 0.5)
SEASONS: Final = (
    Season(
        "Plover Lane Lawns (demo)",
        "Home lawns",
        (
            ("Amberly route", 26.0, "tall_fescue", 1.0),
            ("Plover Hill route", 14.0, "kentucky_bluegrass", 1.0),
        ),
        (_EARLY, _LATE_SPRING, _FALL),
        is_reserved=True,
    ),
    Season(
        "Osier Brook Lawn Crews (demo)",
        "Crews A and B",
        (("Harrow Ridge crews", 55.0, "kentucky_bluegrass", 1.5),),
        (_EARLY, _LATE_SPRING, _SUMMER, _LAST),
        is_reserved=True,
    ),
    Season(
        "Tarn Valley Lawns (demo)",
        "Valley lawns",
        (("Hale Cross lawns", 31.0, "fine_fescue", 1.0),),
        (_LATE_SPRING, _SUMMER, _FALL),
        is_reserved=False,
    ),
    Season(
        "Thornbury Athletic Fields (demo)",
        "Sports fields",
        (("Fields 1 to 6", 12.0, "tall_fescue", 2.0),),
        (_EARLY, _SUMMER, _LAST),
        is_reserved=False,
    ),
)
