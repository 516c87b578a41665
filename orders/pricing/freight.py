"""Truck loads and freight. Weights are gross: product, package and pallet if counted in tare."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from blendshop.money import ZERO, money, split_money
from orders.pricing.checks import PricingError
from orders.pricing.line import QuoteLine
from orders.pricing.terms import Delivery, FreightZone, Truck
from orders.pricing.wording import count, number, rate


@dataclass(frozen=True, slots=True)
class TruckLoad:
    """One trip. ``packages`` pairs a line's place in the quote with the packages loaded."""

    truck: str
    weight_lb: Decimal
    packages: tuple[tuple[int, int], ...] = ()
    bulk_line: int | None = None


@dataclass(frozen=True, slots=True)
class LineFreight:
    """A line's share and how it came; ``tariff`` is what it would be, None where it is that."""

    amount: Decimal
    basis: str
    tariff: Decimal | None = None


@dataclass(frozen=True, slots=True)
class Freight:
    """Freight of a whole quote: its loads, the charge, each line's share."""

    loads: tuple[TruckLoad, ...]
    total: Decimal
    shares: tuple[LineFreight, ...]


def plan_loads(lines: Sequence[QuoteLine], delivery: Delivery) -> tuple[TruckLoad, ...]:
    """The trips for all lines together, none over its truck's payload, places or capacity.

    Packages are whole: the heaviest are placed first, each in the first load with room (first
    fit decreasing), which for packages of one weight is the fewest loads possible. A bulk line
    fills tankers of its own, evenly. Raises PricingError if one package is too heavy for the
    truck or there is no tanker.
    """
    packed = [i for i, line in enumerate(lines) if not line.package.is_bulk]
    bulk = [i for i, line in enumerate(lines) if line.package.is_bulk]
    loads = list(_deck_loads(lines, packed, delivery.deck_truck))
    for index in bulk:
        if delivery.tanker is None:
            raise PricingError("delivery.tanker", "bulk is delivered by tanker; none is given.")
        loads.extend(_tanker_loads(index, lines[index], delivery.tanker))
    return tuple(loads)


def _deck_loads(
    lines: Sequence[QuoteLine], packed: Sequence[int], truck: Truck
) -> tuple[TruckLoad, ...]:
    weights: list[Decimal] = []
    places: list[int] = []
    contents: list[list[tuple[int, int]]] = []
    each = {i: lines[i].gross_lb / lines[i].package_count for i in packed}
    most = truck.package_places or sum(lines[i].package_count for i in packed)

    def fitting(weight: Decimal, used: int, gross: Decimal) -> int:
        return min(int((truck.payload_lb - weight) // gross), most - used)

    for index in sorted(packed, key=lambda i: (-each[i], i)):
        gross, left = each[index], lines[index].package_count
        if gross > truck.payload_lb:
            package = lines[index].package.name
            message = (
                f"one full {package} weighs {number(gross)} lb, more than the "
                f"{number(truck.payload_lb)} lb the {truck.name} may carry."
            )
            raise PricingError("package", message)
        load = 0
        while left:
            if load == len(weights):
                weights.append(Decimal(0))
                places.append(0)
                contents.append([])
            if taken := min(left, fitting(weights[load], places[load], gross)):
                weights[load] += taken * gross
                places[load] += taken
                contents[load].append((index, taken))
                left -= taken
            load += 1
    return tuple(
        TruckLoad(truck.name, weight, tuple(content))
        for weight, content in zip(weights, contents, strict=True)
    )


def _tanker_loads(index: int, line: QuoteLine, tanker: Truck) -> tuple[TruckLoad, ...]:
    trips = math.ceil(line.mass_lb / tanker.payload_lb)
    if tanker.capacity_gal is not None:
        trips = max(trips, math.ceil(line.volume_gal / tanker.capacity_gal))
    each = TruckLoad(tanker.name, line.mass_lb / trips, bulk_line=index)
    return (each,) * trips


def price_freight(
    lines: Sequence[QuoteLine],
    delivery: Delivery | None,
    currency: str,
    agreed: Decimal | None = None,
) -> Freight:
    """Charge the loads of all lines together and share it by gross weight, to the cent.

    ``agreed`` is charged instead of the tariff where a rep agreed it.
    """
    if delivery is None:
        return Freight((), ZERO, (LineFreight(ZERO, "picked up at the plant"),) * len(lines))
    loads = plan_loads(lines, delivery)
    total, words = _charge(lines, len(loads), delivery.zone, currency)
    weights = [line.gross_lb for line in lines]
    tariffs = split_money(total, weights)
    if agreed is not None:
        charged = money(agreed)
        words = f"agreed by the rep instead of {rate(total, currency)}: {words}"
    else:
        charged = total
    bases = [words]
    if len(lines) > 1:
        whole, amount = number(sum(weights, Decimal(0))), rate(charged, currency)
        bases = [
            f"share by weight, {number(w)} of {whole} lb, of {amount} ({words})" for w in weights
        ]
    shares = tuple(
        LineFreight(share, basis, None if agreed is None else tariff)
        for share, basis, tariff in zip(split_money(charged, weights), bases, tariffs, strict=True)
    )
    return Freight(loads, charged, shares)


def _charge(
    lines: Sequence[QuoteLine], load_count: int, zone: FreightZone, currency: str
) -> tuple[Decimal, str]:
    packages = sum(line.package_count for line in lines)
    bulk_gal = sum((line.bulk_gal or Decimal(0) for line in lines), Decimal(0))
    by_tariff = money(
        load_count * zone.per_load + packages * zone.per_package + bulk_gal * zone.per_bulk_gal
    )
    total = max(by_tariff, money(zone.minimum))
    pieces = [
        f"zone {zone.code}",
        f"{count(load_count, 'truck load', 'truck loads')} at {rate(zone.per_load, currency)}",
    ]
    if packages:
        kinds = {line.package.kind for line in lines if not line.package.is_bulk}
        one, many = "package", "packages"
        if len(kinds) == 1:
            package = next(line.package for line in lines if not line.package.is_bulk)
            one, many = package.name, package.plural_name
        pieces.insert(0, count(packages, one, many))
        if zone.per_package:
            pieces.append(f"{rate(zone.per_package, currency)} a {one}")
    if bulk_gal:
        pieces.insert(0, f"{number(bulk_gal)} gal in bulk")
        if zone.per_bulk_gal:
            pieces.append(f"{rate(zone.per_bulk_gal, currency)} a gal in bulk")
    if total > by_tariff:
        pieces.append(f"raised to the minimum of {rate(total, currency)}")
    return total, ", ".join(pieces)
