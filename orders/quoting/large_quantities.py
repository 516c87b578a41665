"""A quantity that is more likely a slip of the finger than an order is asked about once."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from django.utils.translation import gettext as _

from blendshop.figures.readers import reader
from orders.models import Package, Tank
from orders.records.plant_words import package_words

#: More than all tanks in use make in so many working days, a month of them: the house's own rule.
ASKED_DAYS: Final = 20
_MILLION: Final = 1_000_000


@dataclass(frozen=True, slots=True)
class Asked:
    """``words`` ask it; sent back as ``meant``, the same quantities are not asked about again."""

    words: str
    meant: str


def asked_about(wanted: Iterable[tuple[Package, int]], meant: str = "") -> Asked | None:
    """What is to be asked of packages and how many of each; None where nothing is, or ``meant``."""
    month_gal = ASKED_DAYS * sum(
        tank.capacity_gal * tank.loads_a_day for tank in Tank.objects.filter(active=True)
    )
    large = {
        f"{package.pk}:{quantity}": (package, quantity)
        for package, quantity in wanted
        if month_gal and _gallons(package, quantity) > month_gal
    }
    if set(large) <= set(meant.split(",")):
        return None
    words = " ".join(
        _question(package, quantity, month_gal) for package, quantity in large.values()
    )
    return Asked(words, ",".join(large))


def _gallons(package: Package, quantity: int) -> int:
    return quantity if package.is_bulk else int(quantity * package.fill_gal)


def _question(package: Package, quantity: int, month_gal: int) -> str:
    figures, gallons = reader(), _gallons(package, quantity)
    told = {
        "quantity": figures.every_digit(quantity),
        "packages": package_words(package.plural_name, quantity),
        "volume": _volume(gallons),
        "days": ASKED_DAYS,
        "most": figures.volume(month_gal, 0),
    }
    if package.is_bulk:
        words = _(
            "{volume} in bulk is more than the {most} all tanks make in {days} working days:"
            " is that meant?"
        )
    else:
        words = _(
            "{quantity} {packages} are {volume}, more than the {most} all tanks make in {days}"
            " working days: is that meant?"
        )
    return words.format(**told)


def _volume(gallons: int) -> str:
    """In millions where there are some, so that nobody counts zeros."""
    figures = reader()
    if gallons < _MILLION:
        return figures.volume(gallons, 0)
    figure, unit = figures.volume(gallons / _MILLION, 1).rsplit(" ", 1)
    return _("{figure} million {unit}").format(figure=figure, unit=unit)
