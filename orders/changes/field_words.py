"""What a field is called and how its values are written, each with its unit."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date
from decimal import Decimal
from typing import Any, Final

from django.conf import settings
from django.db import models
from django.utils.functional import Promise
from django.utils.text import capfirst
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as _lazy

from blendshop.figures.readers import reader

Writer = Callable[[Any], str]


def money(amount: Decimal) -> str:
    """Dollars; four places where it has more than cents."""
    return reader().unit_price(amount, settings.CURRENCY)


def _per_gal(amount: Decimal) -> str:
    return _("{amount} per gal").format(amount=money(amount))


def _per_ton(amount: Decimal) -> str:
    return _("{amount} per ton").format(amount=money(amount))


def _points(points: Decimal) -> str:
    return _("{points} points").format(points=reader().every_digit(points))


def _figure(value: Any) -> str:
    if isinstance(value, Decimal | int):
        return reader().every_digit(value)
    return reader().at_most(value, 6)


def _with_unit(unit: str) -> Writer:
    return lambda value: f"{_figure(value)} {unit}"


def _percent(value: Any) -> str:
    return f"{_figure(value)}%"


#: The end of a column's name says its unit; the longer ends first.
_UNITS: Final[Mapping[str, Writer]] = {
    "_lb_per_gal": _with_unit("lb/gal"),
    "_temp_f": _with_unit("°F"),
    "_lb": _with_unit("lb"),
    "_gal": _with_unit("gal"),
    "_pct": _percent,
    "_ppm": _with_unit("ppm"),
    "_days": lambda value: _("{count} days").format(count=_figure(value)),
    "_working_days": lambda value: _("{count} working days").format(count=_figure(value)),
}
#: Columns whose name does not say it: model and column.
_WRITERS: Final[Mapping[str, Writer]] = {
    "QuantityBreak.margin_points_off": _points,
    "PricePolicy.batch_fee": money,
    "PricePolicy.lab_fee_per_batch": money,
    "PricePolicy.blend_fee_per_gal": _per_gal,
    "Package.price": money,
    "Package.deposit": money,
    "FreightZone.per_load": money,
    "FreightZone.per_package": money,
    "FreightZone.per_gal": _per_gal,
    "FreightZone.minimum": money,
    "StateFee.fee_per_ton": _per_ton,
    "OrderLimits.most_gal": _with_unit("gal"),
    "OrderLimits.most_total": money,
    "OrderLimits.most_open": money,
    "AnalysisFigure.pct": _percent,
    "MetalFigure.ppm": _with_unit("ppm"),
    "CompatibilityRule.largest_ratio": _with_unit("lb/lb"),
    "PlantProfile.minutes_a_day": _with_unit("min"),
    "PlantProfile.minutes_a_flush": _with_unit("min"),
}
#: Where the words of the column are not those of the trade.
_LABELS: Final[Mapping[str, str | Promise]] = {
    "PricePolicy.effective_from": _lazy("In force from"),
    "PricePolicy.shrink_pct": _lazy("Shrink"),
    "PricePolicy.batch_fee": _lazy("Batch fee"),
    "PricePolicy.blend_fee_per_gal": _lazy("Blending fee"),
    "PricePolicy.lab_fee_per_batch": _lazy("Laboratory fee a batch"),
    "PriceTier.margin_pct": _lazy("Margin"),
    "PriceTier.floor_pct": _lazy("Lowest margin"),
    "PriceTier.is_default": _lazy("Used for customers without a tier"),
    "QuantityBreak.above_gal": _lazy("Beyond"),
    "QuantityBreak.margin_points_off": _lazy("Margin less"),
    "Package.fill_gal": _lazy("Nominal fill"),
    "Package.tare_lb": _lazy("Tare"),
    "Package.max_gross_lb": _lazy("Most it weighs full"),
    "FreightZone.per_load": _lazy("A load"),
    "FreightZone.per_package": _lazy("A package"),
    "FreightZone.per_gal": _lazy("A gallon"),
    "FreightZone.minimum": _lazy("At least"),
    "FreightZone.pick_up": _lazy("Customer collects"),
    "Truck.empty_lb": _lazy("Empty weight"),
    "Truck.gross_limit_lb": _lazy("Gross limit"),
    "Truck.payload_limit_lb": _lazy("Payload limit"),
    "Truck.capacity_gal": _lazy("Capacity"),
    "StateFee.fee_per_ton": _lazy("Fee"),
    "StateFee.active": _lazy("Charged"),
    "CustomerTerms.tier": _lazy("Price tier"),
    "OrderLimits.most_gal": _lazy("Most an order"),
    "OrderLimits.most_total": _lazy("Most an order costs"),
    "OrderLimits.most_open": _lazy("Most of all open orders"),
    "AnalysisFigure.pct": _lazy("Content"),
    "MetalFigure.ppm": _lazy("Content"),
    "BaseStock.density_lb_per_gal": _lazy("Density"),
    "BaseStock.density_temp_f": _lazy("Density taken at"),
    "BaseStock.min_pct": _lazy("Minimum share"),
    "BaseStock.max_pct": _lazy("Maximum share"),
    "BaseStock.scale_step_lb": _lazy("Scale step"),
    "BaseStock.short": _lazy("Out of stock for now"),
    "BaseStock.retired_on": _lazy("Retired on"),
    "CompatibilityRule.largest_pct": _lazy("Largest share"),
    "CompatibilityRule.largest_ratio": _lazy("Largest ratio"),
    "SupplierTerms.lead_days": _lazy("From order to delivery"),
    "SupplierTerms.least_order_lb": _lazy("Least order"),
    "SupplierTerms.pack_lb": _lazy("Sold in steps of"),
    "StockPurchase.lb": _lazy("Ordered"),
    "StockPurchase.ordered_on": _lazy("Ordered on"),
    "StockPurchase.expected_on": _lazy("Expected on"),
    "StockPurchase.received_as": _lazy("Received as"),
    "StockPurchase.called_off_at": _lazy("Called off"),
    "StockStorage.most_lb": _lazy("Storage takes"),
    "Tank.capacity_gal": _lazy("Capacity"),
    "Tank.smallest_gal": _lazy("Smallest load"),
    "Tank.scale_step_lb": _lazy("Scale division"),
    "Tank.tolerance_pct": _lazy("Wanted tolerance"),
    "Tank.fine_step_lb": _lazy("Division of the small scale"),
    "Tank.fine_max_lb": _lazy("Most the small scale takes"),
}


def label_of(model: type[models.Model], field: models.Field[Any, Any]) -> str:
    """What the field is called on a page."""
    key = f"{model.__name__}.{field.name}"
    return str(_LABELS.get(key) or capfirst(str(field.verbose_name)))


def written(
    model: type[models.Model], field: models.Field[Any, Any], value: Any, named: Mapping[Any, Any]
) -> str:
    """A value as a person reads it; ``named`` are the rows a foreign key may point to."""
    if value is None or value == "":
        return _("nothing")
    if isinstance(field, models.ForeignKey):
        return str(named[value]) if value in named else _("something removed since")
    if isinstance(value, bool):
        return _("yes") if value else _("no")
    if field.choices:
        return str(dict(field.flatchoices).get(value, value))
    if isinstance(value, date):
        return reader().date(value)
    if isinstance(value, int | float | Decimal):
        return _writer(f"{model.__name__}.{field.name}")(value)
    return str(value)


def _writer(key: str) -> Writer:
    if key in _WRITERS:
        return _WRITERS[key]
    ends = sorted((end for end in _UNITS if key.endswith(end)), key=len)
    return _UNITS[ends[-1]] if ends else _figure
