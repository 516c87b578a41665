"""The most that material may cost for a wished price, against every cent around it."""

import pytest

from orders.pricing import (
    MarginKind,
    PackageKind,
    QuantityBreak,
    largest_material_cost,
    price_line,
)
from tests.orders.pricing.pricing_cases import (
    BULK,
    MINNESOTA,
    D,
    delivery,
    line,
    policy,
    rates,
    terms,
    tote,
    zone,
)

SHOP = rates(shrink="1.5", batch="85", gal="0.08", lab="35", tonnage=MINNESOTA)
BREAKS = policy(
    "32",
    "20",
    breaks=(
        QuantityBreak(above_gal=D(300), points_off=D(3)),
        QuantityBreak(above_gal=D(900), points_off=D(6)),
    ),
)
DELIVERED = delivery(zone(load="180", package="22", bulk_gal="0.11"))
CASES = {
    "collected": (line(), terms(shop=SHOP)),
    "beyond both breaks, delivered": (line(packages=5), terms(BREAKS, SHOP, delivery=DELIVERED)),
    "a markup": (line(packages=2), terms(policy("40", kind=MarginKind.MARKUP), SHOP)),
    "in bulk": (line(package=BULK, bulk_gal=D(1100)), terms(BREAKS, SHOP)),
    "on deposit": (
        line(package=tote(PackageKind.TOTE_DEPOSIT, deposit_each=D(250))),
        terms(BREAKS, SHOP),
    ),
}


@pytest.mark.parametrize(("asked", "on"), CASES.values(), ids=CASES.keys())
@pytest.mark.parametrize("per_gal", ["2.00", "3.33", "8"])
def test_a_cent_more_of_material_breaks_the_price_and_none_less_does(asked, on, per_gal) -> None:
    def keeps(price) -> bool:
        return price.price_per_gal <= D(per_gal)

    def costing(dollars):
        rows = ((str(asked.weighed_lb), str(dollars / asked.weighed_lb)),)
        more = (
            {"bulk_gal": asked.bulk_gal} if asked.package is BULK else {"packages": asked.packages}
        )
        return price_line(line(rows, asked.package, **more), on)

    most = largest_material_cost(asked, on, keeps)
    assert most is not None
    for cents in range(-30, 31):
        dollars = most + D(cents) / 100
        assert keeps(costing(dollars)) is (cents <= 0), dollars


def test_a_price_below_what_the_plant_itself_costs_has_none() -> None:
    asked, on = CASES["collected"]
    assert largest_material_cost(asked, on, lambda price: price.price_per_gal <= D("0.50")) is None
