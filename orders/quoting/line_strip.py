"""The strip of each line of a quote, by how its customer sprays and what the plant has."""

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
from formulas.engine.law import at_n_rate
from formulas.engine.problem import Stock
from formulas.engine.result import Share
from formulas.engine_bridge import load_catalogue
from formulas.jar_tests.storage import storage_checks
from formulas.models import BlendRevision, RevisionLine
from orders.compliance.check import SprayPlace, law_report, place_of
from orders.inventory.cover import StockCover, stock_cover
from orders.models import ShipTo, SprayHabit
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
    """A line as far as the strip goes by it."""

    revision: BlendRevision
    n_rate_lb: float | None
    material: tuple[MaterialLine, ...] = ()


@dataclass(frozen=True, slots=True)
class _Spraying:
    """How the customer sprays, the volume None while no wish of theirs was saved; and what.

    ``recipes`` are percent by weight by stock code, by revision.
    """

    carrier_gal: float | None
    place: SprayPlace | None
    stocks: Mapping[str, Stock]
    recipes: Mapping[int, Mapping[str, float]]


def line_strips(
    lines: Sequence[StripLine], *, company: Company, ship_to: ShipTo, today: date, by: date | None
) -> tuple[Strip, ...]:
    """The strip of each line; stock is that of all lines together, needed ``by`` that day."""
    spraying = _spraying(lines, company, ship_to, today)
    stock = stock_result(_cover(lines, today), by)
    stored = storage_checks([spraying.recipes[line.revision.pk] for line in lines])
    return tuple(
        Strip.of([*_in_use(line, spraying), cold_result(storage), stock, tested_result(storage)])
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
    spraying = _spraying(lines, company, ship_to, today)
    return tuple(Strip.of(_in_use(line, spraying)).stops for line in lines)


def _spraying(
    lines: Sequence[StripLine], company: Company, ship_to: ShipTo, today: date
) -> _Spraying:
    habit = SprayHabit.objects.filter(company=company).first()
    place = place_of(
        ship_to,
        state=habit.state if habit else "",
        county=habit.county if habit else "",
        place=habit.place if habit else "",
    )
    recipes: dict[int, dict[str, float]] = defaultdict(dict)
    kept = RevisionLine.objects.filter(revision__in={line.revision.pk for line in lines})
    for revision, code, pct in kept.values_list("revision", "stock__code", "pct"):
        recipes[revision][code] = pct
    catalogue = load_catalogue(today, include_short=True)
    return _Spraying(
        habit.carrier_gal_per_1000sqft if habit else None,
        place,
        {stock.code: stock for stock in catalogue.stocks},
        recipes,
    )


def _cover(lines: Sequence[StripLine], today: date) -> tuple[StockCover, ...] | None:
    wanted: dict[tuple[str, str], Decimal] = defaultdict(Decimal)
    for line in lines:
        for row in line.material:
            wanted[row.code, row.name] += row.lb
    return stock_cover([(code, name, lb) for (code, name), lb in wanted.items()], today)


def _in_use(line: StripLine, spraying: _Spraying) -> Iterator[StripResult]:
    """What can stop a line: how it mixes, and what it does where it is sprayed."""
    mix = mix_result(line.revision.solved.stops)
    if mix is not None:
        yield mix
    yield _burn(line, spraying)
    yield _law(line, spraying.place)


def _burn(line: StripLine, spraying: _Spraying) -> StripResult:
    rate, carrier, solved = line.n_rate_lb, spraying.carrier_gal, line.revision.solved
    found = spraying.recipes[line.revision.pk]
    known = set(found) <= set(spraying.stocks)
    if rate is None or carrier is None or not known or not solved.analysis.get("N"):
        return burn_result((), n_rate_lb=rate, carrier_gal=carrier if known else None)
    shares = [Share(code, pct) for code, pct in found.items()]
    stocks = list(spraying.stocks.values())
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
