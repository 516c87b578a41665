"""The strip of each line of a quote, by how its customer sprays and what the plant has.

How a customer sprays is kept with the line from when it was quoted, so that a later habit changes
nothing about a quote that went out.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.utils.translation import gettext as _

from blendshop.accounts.models import Company
from blendshop.errors import BadInput
from formulas.contracts.spray_sheet import spray_sheet
from formulas.engine.field.osmotic_load import dissolved_pct, triazone_n_pct
from formulas.engine.law import ShipTo as Address
from formulas.engine.law import at_n_rate
from formulas.engine.problem import Stock
from formulas.engine.result import Share
from formulas.engine_bridge import load_catalogue
from formulas.jar_tests.storage import storage_checks
from formulas.models import BlendRevision, RevisionLine
from orders.compliance.check import SprayPlace, law_report, place_of
from orders.frozen.spraying import Spraying
from orders.inventory.cover import StockCover, stock_cover
from orders.models import QuoteLine, ShipTo, SprayHabit
from orders.pricing import MaterialLine
from orders.verdict.results import (
    burn_result,
    cold_result,
    law_result,
    mix_result,
    stock_result,
    tested_result,
)
from orders.verdict.strip import Strip, StripResult


@dataclass(frozen=True, slots=True)
class StripLine:
    """A line as far as the strip goes by it; without ``spraying`` as the customer sprays now."""

    revision: BlendRevision
    n_rate_lb: float | None
    material: tuple[MaterialLine, ...] = ()
    spraying: Spraying | None = None

    @classmethod
    def of(cls, line: QuoteLine, material: tuple[MaterialLine, ...] = ()) -> StripLine:
        """A saved line, its revision fetched."""
        return cls(line.revision, line.n_rate_lb_per_1000sqft, material, line.spraying)


@dataclass(frozen=True, slots=True)
class _Known:
    """How the customer sprays ``now``, and what.

    ``recipes`` are percent by weight by stock code, by revision.
    """

    now: Spraying
    stocks: Mapping[str, Stock]
    recipes: Mapping[int, Mapping[str, float]]

    def of(self, line: StripLine) -> Spraying:
        return line.spraying or self.now


def spraying_now(company: Company, ship_to: ShipTo) -> Spraying:
    """By the last wish saved for them; where it named no place, at the ship-to."""
    habit = SprayHabit.objects.filter(company=company).first()
    place = place_of(
        ship_to,
        state=habit.state if habit else "",
        county=habit.county if habit else "",
        place=habit.place if habit else "",
    )
    return Spraying(
        carrier_gal_per_1000sqft=habit.carrier_gal_per_1000sqft if habit else None,
        state=place.address.state if place else "",
        county=place.address.county if place else "",
        place=place.address.place if place else "",
        is_typed=place is not None and place.is_typed,
    )


def line_strips(
    lines: Sequence[StripLine], *, company: Company, ship_to: ShipTo, today: date, by: date | None
) -> tuple[Strip, ...]:
    """The strip of each line; stock is that of all lines together, needed ``by`` that day."""
    known = _known(lines, company, ship_to, today)
    stock = stock_result(_cover(lines, today), by)
    stored = storage_checks([known.recipes[line.revision.pk] for line in lines])
    return tuple(
        Strip.of([*_in_use(line, known), cold_result(storage), stock, tested_result(storage)])
        for line, storage in zip(lines, stored, strict=True)
    )


def line_stops(
    lines: Sequence[StripLine], *, company: Company, ship_to: ShipTo, today: date
) -> tuple[str, ...]:
    """Why the lines must not go out by themselves, each in a sentence with its blend."""
    found = stops_by_line(lines, company=company, ship_to=ship_to, today=today)
    return tuple(
        f"{line.revision.blend.name}: {stop.title}. {stop.sentence}"
        for line, stops in zip(lines, found, strict=True)
        for stop in stops
    )


def stops_by_line(
    lines: Sequence[StripLine], *, company: Company, ship_to: ShipTo, today: date
) -> tuple[tuple[StripResult, ...], ...]:
    """What stops each line; stock and jars never do and are not looked at."""
    known = _known(lines, company, ship_to, today)
    return tuple(Strip.of(_in_use(line, known)).stops for line in lines)


def _known(lines: Sequence[StripLine], company: Company, ship_to: ShipTo, today: date) -> _Known:
    recipes: dict[int, dict[str, float]] = defaultdict(dict)
    kept = RevisionLine.objects.filter(revision__in={line.revision.pk for line in lines})
    for revision, code, pct in kept.values_list("revision", "stock__code", "pct"):
        recipes[revision][code] = pct
    catalogue = load_catalogue(today, include_short=True)
    return _Known(
        spraying_now(company, ship_to),
        {stock.code: stock for stock in catalogue.stocks},
        recipes,
    )


def _cover(lines: Sequence[StripLine], today: date) -> tuple[StockCover, ...] | None:
    wanted: dict[tuple[str, str], Decimal] = defaultdict(Decimal)
    for line in lines:
        for row in line.material:
            wanted[row.code, row.name] += row.lb
    return stock_cover([(code, name, lb) for (code, name), lb in wanted.items()], today)


def _in_use(line: StripLine, known: _Known) -> Iterator[StripResult]:
    """What can stop a line: how it mixes, and what it does where it is sprayed."""
    mix = mix_result(line.revision.solved.stops)
    if mix is not None:
        yield mix
    yield _burn(line, known)
    yield _law(line, _place(known.of(line)))


def _place(spraying: Spraying) -> SprayPlace | None:
    if not spraying.state:
        return None
    address = Address(spraying.state, spraying.county, spraying.place)
    return SprayPlace(address, is_typed=spraying.is_typed)


def _burn(line: StripLine, known: _Known) -> StripResult:
    rate, carrier = line.n_rate_lb, known.of(line).carrier_gal_per_1000sqft
    solved, found = line.revision.solved, known.recipes[line.revision.pk]
    has_all = set(found) <= set(known.stocks)
    if rate is None or carrier is None or not has_all or not solved.analysis.get("N"):
        return burn_result((), n_rate_lb=rate, carrier_gal=carrier if has_all else None)
    shares = [Share(code, pct) for code, pct in found.items()]
    stocks = list(known.stocks.values())
    try:
        sheet = spray_sheet(
            {
                "analysis": dict(solved.analysis),
                "density_lb_per_gal": solved.totals.density_lb_per_gal,
                "n_rate_lb_per_1000sqft": rate,
                "carrier_gal_per_1000sqft": carrier,
                "solutes": dissolved_pct(shares, stocks),
                "triazone_n_pct": triazone_n_pct(shares, stocks),
            }
        )
    except BadInput as bad:
        missing = " ".join(bad.fields.values()) or bad.message
        return burn_result((), n_rate_lb=rate, carrier_gal=carrier, missing=missing)
    return burn_result(sheet.cautions, n_rate_lb=rate, carrier_gal=carrier)


def _law(line: StripLine, place: SprayPlace | None) -> StripResult:
    """Without a day: what depends on one stays not assessed."""
    solved, rate = line.revision.solved, line.n_rate_lb
    if place is not None and rate is None:
        return law_result(None, missing=_("At what N rate?"))
    if place is None or rate is None or not solved.analysis.get("N"):
        return law_result(None)
    forms = {key: pct for key, pct in solved.analysis.items() if key != "N"}
    return law_result(law_report(place, at_n_rate(forms, rate)))
