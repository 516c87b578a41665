"""From what was said in a line to the fields of the page, in the plant's own packages."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Final, TypeAlias

from django.utils.translation import gettext as _

from formulas.engine.composition import SLOW_RELEASE
from formulas.spoken_wish.meanings import (
    AirTemperature,
    Choice,
    Content,
    Delivered,
    Gallons,
    LeavesIn,
    LegalWhereSprayed,
    Meaning,
    NitrogenRate,
    Packages,
    Pounds,
    PriceAtMost,
    Said,
    SprayedIn,
    SprayTank,
    SprayVolume,
    Unit,
    Without,
)
from formulas.spoken_wish.saying import number, say
from formulas.spoken_wish.sources import stocks_of
from orders.blend_page import fields as f
from orders.blend_page.page_options import PageOptions
from orders.models import Package

#: What kinds of the plant's packages a unit means begin with.
_KINDS: Final[Mapping[Unit, str]] = {
    Unit.TOTE: "tote", Unit.DRUM: "drum", Unit.PAIL: "pail", Unit.BULK: "bulk",
}  # fmt: skip
_MOST_CHOICES: Final = 3


@dataclass(frozen=True, slots=True)
class Filled:
    """Fields a phrase fills (name and value, a name several times for ticks), and its words.

    A field with an empty value is emptied; without words it says nothing by itself.
    """

    label: str
    fields: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Unsettled:
    """Why a phrase fills no field yet, and words that would."""

    sentence: str
    choices: tuple[Choice, ...] = ()


Result: TypeAlias = Filled | Unsettled


class LineFields:
    """Fills fields from phrases. ``package`` is the one chosen on the page so far."""

    def __init__(self, options: PageOptions, package: str, said: tuple[Said, ...]) -> None:
        self.options = options
        self.package = options.package(package) or options.default_package
        self.leaves_in = next(
            (each.meaning.unit for each in said if isinstance(each.meaning, LeavesIn)), None
        )

    def of(self, meaning: Meaning) -> Result:
        """The fields of one phrase."""
        match meaning:
            case Content(key) if key not in {*f.ALL_ROWS, SLOW_RELEASE}:
                return Unsettled(_("The page has no row for this: leave it out."))
            case Content():
                return Filled(say(meaning), tuple(_limits(meaning)))
            case Packages(count, unit, size):
                return self._packages(count, unit, size)
            case Gallons(gal):
                return self._gallons(gal)
            case Pounds():
                return Unsettled(_("The page sells by volume: say gallons or packages."))
            case Without(source):
                return self._without(source)
            case LeavesIn():
                return Filled("", ())
        return Filled(_label(meaning), tuple(_others(meaning)))

    def _packages(self, count: int, unit: Unit, size: float | None) -> Result:
        known = self._of_kind(unit)
        fitting = [package for package in known if size is None or package.fill_gal == _exact(size)]
        package = self._preferred(fitting)
        if package is None:
            offered = dict.fromkeys(package.fill_gal for package in known)
            choices = tuple(
                Choice(say(Packages(count, unit, float(fill_gal)))) for fill_gal in offered
            )
            return Unsettled(_("The plant does not fill such packages."), choices[:_MOST_CHOICES])
        return _sold(package, count)

    def _gallons(self, gal: float) -> Result:
        if self.leaves_in is Unit.BULK or (
            self.leaves_in is None and self.package is not None and self.package.is_bulk
        ):
            bulk = self._preferred(self._of_kind(Unit.BULK))
            if bulk is None:
                return Unsettled(_("The plant does not sell in bulk."))
            if gal != int(gal):
                whole = Choice(f"{say(Gallons(math.ceil(gal)))} in bulk")
                return Unsettled(_("Bulk is sold in whole gallons."), (whole,))
            return _sold(bulk, int(gal))
        package = (
            self.package
            if self.leaves_in is None
            else self._preferred(self._of_kind(self.leaves_in))
        )
        if package is None or package.is_bulk:
            return Unsettled(_("In which package?"))
        if _exact(gal) % package.fill_gal == 0:
            return _sold(package, int(_exact(gal) / package.fill_gal))
        return Unsettled(
            _("These gallons fill no whole number of {packages}.").format(
                packages=package.plural_name
            ),
            self._near(gal, package),
        )

    def _near(self, gal: float, package: Package) -> tuple[Choice, ...]:
        unit = next((unit for unit, kind in _KINDS.items() if package.kind.startswith(kind)), None)
        choices = []
        if unit is not None:
            up = math.ceil(_exact(gal) / package.fill_gal)
            fill_gal = float(package.fill_gal)
            choices = [
                Choice(say(Packages(count, unit, fill_gal))) for count in (up - 1, up) if count
            ]
        if self._of_kind(Unit.BULK):
            choices.append(Choice(f"{say(Gallons(float(math.ceil(gal))))} in bulk"))
        return tuple(choices)

    def _without(self, source: str) -> Filled:
        codes = stocks_of(source, self.options.catalogue.stocks)
        names = self.options.catalogue.names
        held = ", ".join(names[code] for code in codes) or _("no stock holds it")
        label = _("no {source} ({stocks})").format(source=source, stocks=held)
        return Filled(label, tuple(("exclude", code) for code in codes))

    def _of_kind(self, unit: Unit) -> list[Package]:
        kind = _KINDS[unit]
        return [package for package in self.options.packages if package.kind.startswith(kind)]

    def _preferred(self, packages: list[Package]) -> Package | None:
        """The one that is chosen already, the usual one, the first."""
        for wanted in (self.package, self.options.default_package):
            if wanted in packages:
                return wanted
        return next(iter(packages), None)


def _exact(gal: float) -> Decimal:
    return Decimal(number(gal))


def _sold(package: Package, count: int) -> Filled:
    if package.is_bulk:
        label = _("{gal} gal in bulk").format(gal=count)
    else:
        name = package.name if count == 1 else package.plural_name
        label = _("{count} × {package}").format(count=count, package=name)
    return Filled(label, (("quantity", str(count)), ("package", package.code)))


def _limits(content: Content) -> list[tuple[str, str]]:
    def field(side: str) -> str:
        is_slow = content.key == SLOW_RELEASE
        return f"slow_{side}" if is_slow else f.wish_field(content.key, side)

    found = []
    if content.low_pct is not None:
        found.append((field("min"), number(content.low_pct)))
    elif content.high_pct == 0:
        found.append((field("min"), ""))
    if content.high_pct is not None:
        found.append((field("max"), number(content.high_pct)))
    return found


def _label(meaning: Meaning) -> str:
    if isinstance(meaning, SprayVolume) and meaning.is_assumed:
        return _("low volume: {gal} gal per 1,000 sq ft (common practice, no source)").format(
            gal=number(meaning.gal_per_1000sqft)
        )
    return say(meaning)


def _others(meaning: Meaning) -> list[tuple[str, str]]:
    match meaning:
        case NitrogenRate(lb):
            return [("n_rate", number(lb))]
        case SprayVolume(gal, _):
            return [("carrier", number(gal))]
        case SprayTank(gal):
            return [("tank", number(gal))]
        case AirTemperature(degrees_f):
            return [("air", number(degrees_f))]
        case SprayedIn(state):
            return [("law_state", state)]
        case LegalWhereSprayed():
            return [("legal", "on")]
        case PriceAtMost(dollars, per):
            return [(f.PRICE_ASKED, format(dollars, "f")), (f.PRICE_ASKED_PER, per)]
        case Delivered():
            return [(f.ASKED_DELIVERED, "on")]
    return []
