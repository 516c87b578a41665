"""Builders of pricing inputs for the tests. All dollars, weights and zones here are demo."""

from decimal import Decimal

from orders.pricing import (
    Delivery,
    FreightZone,
    MarginPolicy,
    PackageKind,
    PackageOption,
    QuoteLine,
    QuoteTerms,
    RecipeLine,
    ShopRates,
    TonnageFee,
    Truck,
)

D = Decimal


def recipe(*rows):
    """``("2000", "0.15")`` rows become stocks S0, S1, ... of so many lb at so much per lb."""
    return tuple(
        RecipeLine(code=f"S{i}", name=f"stock {i}", lb=D(lb), cost_per_lb=D(cost))
        for i, (lb, cost) in enumerate(rows)
    )


def tote(kind=PackageKind.TOTE_SOLD, fill="265", tare="130", price="140", **more):
    return PackageOption(
        kind=kind,
        name="tote",
        plural_name="totes",
        fill_gal=D(fill),
        tare_lb=D(tare),
        price_each=D(price),
        **more,
    )


BULK = PackageOption(kind=PackageKind.BULK, name="bulk", plural_name="bulk")


def line(rows=(("2000", "0.15"), ("855.1", "0.0005")), package=None, **changes):
    package = package or tote()
    quantity = {} if "bulk_gal" in changes else {"packages": 1}
    values = {"batches": 1, "n_pct": D(24), **quantity, **changes}
    return QuoteLine(recipe=recipe(*rows), package=package, **values)


def policy(target="30", floor="0", **changes):
    tier = changes.pop("tier", "contractor")
    return MarginPolicy(tier=tier, target_pct=D(target), floor_pct=D(floor), **changes)


#: Minnesota, $0.79 inspection + $0.48 clean-up account a ton: Minn. Stat. 18C.425 and 18E.03.
MINNESOTA = TonnageFee(state="Minnesota", per_ton=D("1.27"), citation="Minn. Stat. 18C.425, 18E.03")
#: Oregon, $0.45 a ton: OAR 603-059-0020.
OREGON = TonnageFee(state="Oregon", per_ton=D("0.45"), citation="OAR 603-059-0020")


def rates(shrink="0", batch="0", gal="0", lab="0", tonnage=None):
    return ShopRates(
        shrink_pct=D(shrink),
        blending_per_batch=D(batch),
        blending_per_gal=D(gal),
        lab_per_batch=D(lab),
        tonnage=tonnage,
    )


def terms(margin=None, shop=None, **changes):
    return QuoteTerms(rates=shop or rates(), margin=margin or policy(), **changes)


def zone(load="0", package="0", bulk_gal="0", minimum="0", code="B"):
    return FreightZone(
        code=code,
        per_load=D(load),
        per_package=D(package),
        per_bulk_gal=D(bulk_gal),
        minimum=D(minimum),
    )


def truck(empty="33000", name="truck", **limits):
    return Truck(name=name, empty_lb=D(empty), **limits)


def delivery(zone_, deck=None, tanker=None):
    return Delivery(zone=zone_, deck_truck=deck or truck(), tanker=tanker)
