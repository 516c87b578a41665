"""A blend in a package, as the pure pricing reads it."""

from __future__ import annotations

import dataclasses
from decimal import Decimal
from typing import Final

from django.db.models import prefetch_related_objects

from blendshop.errors import BadInput
from formulas.contracts.formulation import Formulation
from formulas.engine.composition import with_total_n
from formulas.engine.result import Blend
from formulas.engine_bridge import Catalogue, exact
from formulas.models import BlendRevision
from orders import pricing
from orders.models import (
    Package,
)
from orders.planning.recipe_density import recipe_density_lb_per_gal

#: Decimal places of a pound: below any scale, so that rounding here never shows in a price.
_LB_PLACES: Final = 6
#: What can be priced: an answered wish, a blend of the engine, a saved revision.
Blendable = Formulation | Blend | BlendRevision


@dataclasses.dataclass(frozen=True, slots=True)
class StockShare:
    """One stock of a recipe: percent by weight and today's cost in dollars per lb."""

    code: str
    name: str
    pct: float
    cost_per_lb: Decimal


@dataclasses.dataclass(frozen=True, slots=True, kw_only=True)
class PricedRequest:
    """One line to be priced: a recipe in ``quantity`` packages, or gallons when in bulk.

    ``n_pct`` is total nitrogen by weight, ``margin_pct`` the rep's own margin in percent of the
    price instead of the tier's.
    """

    recipe: tuple[StockShare, ...]
    density_lb_per_gal: float
    n_pct: float
    package: Package
    quantity: int
    n_rate_lb_per_1000sqft: float | None = None
    margin_pct: Decimal | None = None


def request_for(
    source: Blendable,
    *,
    catalogue: Catalogue,
    package: Package,
    quantity: int,
    n_rate: float | None = None,
    margin_pct: Decimal | None = None,
) -> PricedRequest:
    """A blend in a package, its recipe at the catalogue's costs.

    Raises BadInput, naming the stock, when the recipe holds one the catalogue cannot price.
    """
    shares, density, n_pct = _blend_of(source)
    recipe = tuple(_share(code, pct, catalogue) for code, pct in shares)
    if isinstance(source, BlendRevision):
        # What fills a package is today's figure: a better model, a measured batch.
        density = recipe_density_lb_per_gal(source, {s.code: s for s in catalogue.stocks})
    return PricedRequest(
        recipe=recipe,
        density_lb_per_gal=density,
        n_pct=n_pct,
        package=package,
        quantity=quantity,
        n_rate_lb_per_1000sqft=n_rate,
        margin_pct=margin_pct,
    )


def quote_line(line: PricedRequest, tank_capacity_gal: Decimal) -> pricing.QuoteLine:
    """The line of the pure pricing: pounds of each stock, batches, the package."""
    package = line.package
    bulk = package.is_bulk
    volume_gal = Decimal(line.quantity) * (Decimal(1) if bulk else package.fill_gal)
    mass_lb = volume_gal * exact(line.density_lb_per_gal)
    override = None
    if line.margin_pct is not None:
        override = pricing.Override(margin_pct=line.margin_pct)
    n_rate = line.n_rate_lb_per_1000sqft
    return pricing.QuoteLine(
        recipe=tuple(
            pricing.RecipeLine(
                code=share.code,
                name=share.name,
                lb=round(mass_lb * exact(share.pct) / 100, _LB_PLACES),
                cost_per_lb=share.cost_per_lb,
            )
            for share in line.recipe
        ),
        package=_package_option(package),
        packages=None if bulk else line.quantity,
        bulk_gal=volume_gal if bulk else None,
        batches=pricing.batch_count(volume_gal, tank_capacity_gal),
        n_pct=exact(line.n_pct),
        n_rate_lb_per_1000sqft=None if n_rate is None else exact(n_rate),
        override=override,
    )


def _blend_of(
    source: Blendable,
) -> tuple[list[tuple[str, float]], float, float]:
    """Shares by stock code, density and total nitrogen of a solved blend or a saved revision."""
    if isinstance(source, BlendRevision):
        prefetch_related_objects(
            [source], "lines__stock", "measured_densities__reading"
        )  # nothing if the caller already did
        shares = [(line.stock.code, line.pct) for line in source.lines.all()]
        return shares, source.density_lb_per_gal, source.analysis.get("N", 0.0)
    if isinstance(source, Formulation):
        if source.blend is None:
            raise BadInput("This wish is out of reach: there is no blend to price.")
        source = source.blend
    shares = [(share.code, share.pct) for share in source.shares if share.pct > 0]
    return shares, source.density_lb_per_gal, with_total_n(source.analysis).get("N", 0.0)


def _share(code: str, pct: float, catalogue: Catalogue) -> StockShare:
    name = catalogue.names.get(code)
    if name is None:
        why = catalogue.left_out.get(code, f"The catalogue has no stock {code}.")
        raise BadInput(f"This blend cannot be priced today. {why}", fields={"recipe": why})
    return StockShare(code=code, name=name, pct=pct, cost_per_lb=catalogue.cost_per_lb[code])


def _package_option(package: Package) -> pricing.PackageOption:
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
