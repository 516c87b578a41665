"""A blend in a package, as the pure pricing reads it."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from decimal import Decimal
from typing import Final

from django.db.models import prefetch_related_objects
from django.utils.translation import gettext as _

from blendshop.errors import BadInput
from blendshop.money import ZERO
from formulas.answers.promised_grade import promised_grade
from formulas.answers.wish import Wish
from formulas.engine.composition import with_total_n
from formulas.engine.result import Blend, Share
from formulas.engine_bridge import Catalogue, exact
from formulas.models import BlendRevision
from orders import pricing
from orders.frozen.quoted_load import QuotedLoad
from orders.models import LabelPromise, Package, Tank
from orders.planning.default_load import default_load, promised_problem
from orders.planning.load_promise import load_promise
from orders.planning.recipe_density import load_density_correction, recipe_density_lb_per_gal
from orders.quoting.deals import Deal
from orders.quoting.priced_loads import PricedLoads

#: Decimal places of a pound: below any scale, so that rounding here never shows in a price.
_LB_PLACES: Final = 6


@dataclasses.dataclass(frozen=True, slots=True)
class WishedBlend:
    """A blend that is not saved: what was asked, and the engine's answer to it."""

    wished: Wish
    blend: Blend

    @property
    def grade(self) -> str:
        return promised_grade(self.wished, self.blend.analysis)

    @property
    def analysis(self) -> Mapping[str, float]:
        return with_total_n(self.blend.analysis)


#: What is read of a saved revision; a caller with many fetches it for all at once.
PREFETCHED: Final = (
    "lines__stock",
    "label_promise",
    "measured_densities__reading__batch",
)
#: What can be priced.
Blendable = WishedBlend | BlendRevision


@dataclasses.dataclass(frozen=True, slots=True)
class StockShare:
    """One stock of a recipe: percent by weight."""

    code: str
    name: str
    pct: float


@dataclasses.dataclass(frozen=True, slots=True, kw_only=True)
class PricedRequest:
    """One line to be priced: a recipe in ``quantity`` packages, or gallons when in bulk.

    ``loads`` plans what is weighed for it. ``n_pct`` is total nitrogen by weight, ``margin_pct``
    the rep's own margin in percent of the price instead of the tier's, ``deal`` what else was
    negotiated.
    """

    recipe: tuple[StockShare, ...]
    loads: PricedLoads
    density_lb_per_gal: float
    n_pct: float
    package: Package
    quantity: int
    n_rate_lb_per_1000sqft: float | None = None
    margin_pct: Decimal | None = None
    deal: Deal | None = None

    @property
    def volume_gal(self) -> Decimal:
        """Packages at their nominal fill, or the gallons of a bulk order."""
        one = Decimal(1) if self.package.is_bulk else self.package.fill_gal
        return self.quantity * one

    @property
    def load(self) -> QuotedLoad:
        """The default load it is priced for; BadInput when it cannot be weighed."""
        return self.loads.of(self.volume_gal)


def request_for(
    source: Blendable,
    *,
    catalogue: Catalogue,
    tanks: tuple[Tank, ...],
    package: Package,
    quantity: int,
    n_rate: float | None = None,
    margin_pct: Decimal | None = None,
    deal: Deal | None = None,
) -> PricedRequest:
    """A blend in a package, its recipe at the catalogue's costs, to be weighed in one of ``tanks``.

    Raises BadInput, naming the stock, when the recipe holds one the catalogue cannot price.
    """
    shares = _shares_of(source)
    recipe = tuple(_share(share, catalogue) for share in shares)
    stock_of = {stock.code: stock for stock in catalogue.stocks}
    used = {share.code for share in shares}
    stocks = tuple(stock for stock in catalogue.stocks if stock.code in used)
    if isinstance(source, BlendRevision):
        # What fills a package is today's figure: a better model, a measured batch.
        density = recipe_density_lb_per_gal(source, stock_of)
        correction = load_density_correction(source)
        promise: LabelPromise | None = getattr(source, "label_promise", None)
        printed = {} if promise is None else promise.promised.lines_pct
    else:
        density, correction, printed = source.blend.density_lb_per_gal, 1.0, {}
    return PricedRequest(
        recipe=recipe,
        loads=PricedLoads(
            problem=promised_problem(load_promise(source), source.wished, stocks, catalogue.rules),
            recipe=shares,
            catalogue=catalogue,
            tanks=tanks,
            printed_pct={key: float(pct) for key, pct in printed.items()},
            density_correction=correction,
        ),
        density_lb_per_gal=density,
        n_pct=source.analysis.get("N", 0.0),
        package=package,
        quantity=quantity,
        n_rate_lb_per_1000sqft=n_rate,
        margin_pct=margin_pct,
        deal=deal,
    )


def room_ratio(line: PricedRequest) -> Decimal:
    """What its load costs over what the plain recipe of the same gallons does; 1 if that is free.

    BadInput when it cannot be weighed.
    """
    plain = sum((stock.lb * stock.cost_per_lb for stock in plain_material(line)), ZERO)
    load = line.load
    return load.loads * load.cost / plain if plain else Decimal(1)


def quote_line(line: PricedRequest) -> pricing.QuoteLine:
    """The line of the pure pricing: pounds of each stock as planned, batches, the package."""
    load = line.load
    planned = _planned(load, line.volume_gal)
    return _line(line, _weighed(load, line.loads.catalogue), planned, load.loads)


def unplanned_line(line: PricedRequest, ratio: Decimal) -> pricing.QuoteLine:
    """The same without a plan: the plain recipe, and ``ratio`` times of it weighed.

    For what is only drawn, such as a curve of many blends; the room costs about as much of each.
    """
    plain = plain_material(line)
    net_lb = sum((stock.lb for stock in plain), Decimal(0))
    return _line(
        line,
        tuple(dataclasses.replace(stock, lb=stock.lb * ratio) for stock in plain),
        pricing.PlannedMaterial(net_lb=net_lb, made_gal=line.volume_gal, room_per_gal=ZERO),
        default_load(line.volume_gal, line.loads.tanks).loads,
    )


def plain_material(line: PricedRequest) -> tuple[pricing.RecipeLine, ...]:
    """The pounds of the recipe in the gallons ordered, before any room for weighing."""
    mass_lb = line.volume_gal * exact(line.density_lb_per_gal)
    return tuple(
        pricing.RecipeLine(
            code=share.code,
            name=share.name,
            lb=mass_lb * exact(share.pct) / 100,
            cost_per_lb=line.loads.catalogue.cost_per_lb[share.code],
        )
        for share in line.recipe
    )


def _line(
    line: PricedRequest,
    recipe: tuple[pricing.RecipeLine, ...],
    planned: pricing.PlannedMaterial,
    batches: int,
) -> pricing.QuoteLine:
    package = line.package
    bulk = package.is_bulk
    deal = line.deal
    override = None if deal is None else deal.override
    if override is None and line.margin_pct is not None:
        override = pricing.Override(margin_pct=line.margin_pct)
    n_rate = line.n_rate_lb_per_1000sqft
    return pricing.QuoteLine(
        recipe=recipe,
        package=package_option(package),
        packages=None if bulk else line.quantity,
        bulk_gal=line.volume_gal if bulk else None,
        batches=batches,
        n_pct=exact(line.n_pct),
        n_rate_lb_per_1000sqft=None if n_rate is None else exact(n_rate),
        override=override,
        discount=None if deal is None else deal.discount,
        planned=planned,
    )


def weighed_line(line: pricing.QuoteLine, loads: PricedLoads) -> pricing.QuoteLine | None:
    """The same blend at another quantity with its own default load; None if it has none."""
    try:
        load = loads.of(line.volume_gal)
    except BadInput:
        return None
    return dataclasses.replace(
        line,
        recipe=_weighed(load, loads.catalogue),
        batches=load.loads,
        planned=_planned(load, line.volume_gal),
    )


def _planned(load: QuotedLoad, volume_gal: Decimal) -> pricing.PlannedMaterial:
    """What is sold weighs what the load does: the label of a package states that weight."""
    return pricing.PlannedMaterial(
        net_lb=round(volume_gal * exact(load.density_lb_per_gal), _LB_PLACES),
        made_gal=load.loads * exact(load.made_gal),
        room_per_gal=load.room_cost_per_gal,
    )


def _weighed(load: QuotedLoad, catalogue: Catalogue) -> tuple[pricing.RecipeLine, ...]:
    """What is weighed in all the loads together."""
    return tuple(
        pricing.RecipeLine(
            code=step.code,
            name=step.name,
            lb=load.loads * exact(step.weight_lb),
            cost_per_lb=catalogue.cost_per_lb[step.code],
        )
        for step in load.steps
    )


def _shares_of(source: Blendable) -> tuple[Share, ...]:
    """Shares by stock code of a solved blend or a saved revision."""
    if isinstance(source, BlendRevision):
        # Nothing if the caller already did.
        prefetch_related_objects([source], "lines__stock", "measured_densities__reading")
        return tuple(Share(line.stock.code, line.pct) for line in source.lines.all())
    return tuple(share for share in source.blend.shares if share.pct > 0)


def _share(share: Share, catalogue: Catalogue) -> StockShare:
    name = catalogue.names.get(share.code)
    if name is None:
        why = catalogue.left_out.get(share.code, f"The catalogue has no stock {share.code}.")
        raise BadInput(
            _("This blend cannot be priced today. {why}").format(why=why), fields={"recipe": why}
        )
    return StockShare(code=share.code, name=name, pct=share.pct)


def package_option(package: Package) -> pricing.PackageOption:
    """The row as the pure pricing takes it."""
    limit = package.max_gross_lb
    return pricing.PackageOption(
        kind=pricing.PackageKind(package.kind),
        name=package.name,
        plural_name=package.plural_name,
        fill_gal=package.fill_gal,
        tare_lb=package.tare_lb,
        price_each=package.price,
        deposit_each=package.deposit,
        max_net_lb=None if limit is None else limit - package.tare_lb,
    )
