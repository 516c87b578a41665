"""The tables of the office become the terms of a price; what is missing is said in a sentence."""

import json
from datetime import date, timedelta
from decimal import Decimal

import pytest

from blendshop.errors import BadInput
from blendshop.money import unit_price
from formulas.answers.wish import Wish
from formulas.blends.actions import save_blend
from formulas.contracts.formulation import formulate
from formulas.engine_bridge import load_catalogue
from formulas.models import BaseStock, StockCost
from orders.models import (
    Package,
    PricePolicy,
    PriceTier,
    QuantityBreak,
    StateFee,
    Tank,
    Truck,
)
from orders.planning.default_load import tanks_in_use
from orders.pricing import PriceBreakdown, StepCode
from orders.quoting import price as price_bridge
from orders.quoting.requests import WishedBlend, request_for
from orders.quoting.terms import terms_for
from tests.factories import (
    CustomerTermsFactory,
    FreightZoneFactory,
    PackageFactory,
    PricePolicyFactory,
    PriceTierFactory,
    ShipToFactory,
    today,
)

pytestmark = pytest.mark.django_db


def preview(quotable, **changes):
    """The price of the quotable blend alone."""
    asked = {
        "package": Package.objects.get(code="tote-265"),
        "quantity": 1,
        "company": quotable["company"],
        "ship_to": quotable["ship_to"],
        "n_rate": None,
        "today": today(),
        **changes,
    }
    line = request_for(
        quotable["revision"],
        catalogue=load_catalogue(asked["today"], include_short=True),
        tanks=tanks_in_use(),
        package=asked["package"],
        quantity=asked["quantity"],
        n_rate=asked["n_rate"],
    )
    whose = {name: asked[name] for name in ("company", "ship_to", "today")}
    return price_bridge.price_lines([line], **whose).lines[0]


def amounts(price):
    return {step.code.value: step.amount for step in price.steps}


def test_every_step_comes_from_the_office_tables(world):
    """1,337 ± 6 lb of 32 % UAN and 1,325 ± 6 lb of water at 10 lb/gal each, worked by hand.

    With the least UAN and the most water there is as much of one as of the other, so 16 % N; the
    least of both is 2,650 lb, the 265 gal. One pound of UAN less would miss the 16 %.
    """
    price = preview(world)
    assert [(stock.code, stock.lb) for stock in price.material] == [("UAN", 1337), ("WATER", 1325)]
    assert amounts(price) == {
        "material": Decimal("241.99"),  # 240.66 at $0.18 and 1.325 at $0.001
        "shrink": Decimal("3.63"),  # 1.5 %
        "blending_batch": Decimal("85.00"),
        "blending_volume": Decimal("31.80"),  # 265 gal at $0.12
        "package": Decimal("120.00"),
        "lab": Decimal("40.00"),
        "tonnage_fee": Decimal("0.00"),  # no fee is kept for this state
        "freight": Decimal("170.00"),  # one load and one tote
        "margin": Decimal("230.81"),  # 25 % of the price = 692.42 / 3
    }


def test_the_state_of_the_ship_to_adds_its_tonnage_fee(world):
    StateFee.objects.create(
        state="MD", fee_per_ton=Decimal("2.0000"), citation="test text", mark="demo"
    )
    price = preview(world)
    assert price.amount(StepCode.TONNAGE) == Decimal("2.65")  # 1.325 tons
    StateFee.objects.update(active=False)
    assert preview(world).amount(StepCode.TONNAGE) == 0


def test_a_pick_up_zone_or_no_ship_to_has_no_freight(world, company):
    collected = ShipToFactory(
        company=company, zone=FreightZoneFactory(name="Collected", pick_up=True)
    )
    assert preview(world, ship_to=collected).amount(StepCode.FREIGHT) == 0
    assert preview(world, ship_to=None).amount(StepCode.FREIGHT) == 0


def test_the_latest_policy_that_has_begun_is_used(world):
    PricePolicyFactory(effective_from=today(), batch_fee=Decimal("90.00"))
    PricePolicyFactory(effective_from=today() + timedelta(days=1), batch_fee=Decimal("99.00"))
    assert preview(world).amount(StepCode.BLENDING_BATCH) == Decimal("90.00")


def test_a_customer_with_terms_gets_its_own_tier(world, company):
    cheap = PriceTierFactory(
        name="large", margin_pct=Decimal(10), floor_pct=Decimal(5), is_default=False
    )
    CustomerTermsFactory(company=company, tier=cheap)
    assert preview(world).amount(StepCode.MARGIN) == Decimal("76.94")  # 692.42 / 9


def test_more_batches_than_the_largest_tank_holds_are_charged(world):
    assert Tank.objects.get().capacity_gal == 1200
    five = preview(world, quantity=5)  # 1,325 gal
    assert five.amount(StepCode.BLENDING_BATCH) == Decimal("170.00")


def test_bulk_is_asked_for_in_gallons_and_goes_by_tanker(world):
    bulk = PackageFactory(
        code="bulk",
        name="bulk",
        plural_name="bulk",
        kind=Package.Kind.BULK,
        fill_gal=0,
        tare_lb=0,
        max_gross_lb=None,
        price=0,
    )
    bulk.refresh_from_db()
    price = preview(world, package=bulk, quantity=1000)
    assert price.volume_gal == 1000
    assert price.price_per_package is None
    assert price.amount(StepCode.FREIGHT) == Decimal("200.00")  # 150 + 1,000 gal at $0.05


def test_a_package_too_heavy_for_its_rating_is_refused_in_a_sentence(world):
    Package.objects.update(max_gross_lb=Decimal(2700))
    with pytest.raises(BadInput, match=r"would hold 2,650 lb, rated 2,570 lb\."):
        preview(world, package=Package.objects.get())


def test_an_unsaved_answer_is_priced_like_the_same_wish_saved(world, company, rep):
    wish = {"targets": [{"nutrient": "N", "min": 20}], "fill": {"volume_gal": 265}}
    answer = formulate(wish, catalogue=load_catalogue(today()))
    unsaved = WishedBlend(Wish.from_json(wish), answer.blend)
    saved = save_blend(acting_user=rep, name="Twenty", company=company, wish=wish, today=today())
    price = preview({**world, "revision": saved}, n_rate=0.5)
    assert preview({**world, "revision": unsaved}, n_rate=0.5) == price
    # Per 1,000 sq ft: half a pound of N in a product that is promised 20 % of it.
    assert price.price_per_1000sqft == unit_price(price.price_total / 2 / (price.mass_lb / 5))


def test_the_quantity_table_steps_down_at_each_break(world):
    QuantityBreak.objects.create(above_gal=530, margin_points_off=Decimal(3))
    line = request_for(
        world["revision"],
        catalogue=load_catalogue(today()),
        tanks=tanks_in_use(),
        package=Package.objects.get(),
        quantity=1,
    )
    rows = price_bridge.price_breaks(
        line, company=world["company"], ship_to=world["ship_to"], today=today()
    )
    assert [row.packages for row in rows] == [1, 2, 4]
    assert rows[0].price_per_gal > rows[1].price_per_gal > rows[2].price_per_gal


@pytest.mark.parametrize(
    ("model", "sentence"),
    [
        (PricePolicy, "No price policy is in force: the office sets it under First steps, Prices."),
        (PriceTier, "No price tier is the default: the office sets one under First steps, Prices."),
        (Tank, "No blending tank is in use: the office sets one under First steps, Tanks."),
        (Truck, "No deck truck is in use: the office sets one under First steps, Delivery."),
    ],
)
def test_missing_price_data_is_named_with_where_to_set_it(world, model, sentence):
    if model is Tank:  # its ledger keeps the row
        Tank.objects.update(active=False)
    else:  # past the guard of written-once rows: as it is before the office fills the table
        model.objects.all()._raw_delete("default")
    with pytest.raises(BadInput) as refused:
        preview(world)
    assert refused.value.message == sentence


def test_a_policy_of_the_future_is_not_in_force_yet(world):
    with pytest.raises(BadInput, match="No price policy is in force"):
        terms_for(company=None, ship_to=None, today=date(2019, 12, 31))


def test_a_retired_stock_is_named_instead_of_priced(world):
    BaseStock.objects.filter(code="UAN").update(retired_on=today())
    with pytest.raises(BadInput, match=r"urea ammonium nitrate solution is retired since"):
        preview(world)


def test_a_short_stock_still_has_a_price(world):
    BaseStock.objects.filter(code="UAN").update(short=True)
    assert preview(world).amount(StepCode.MATERIAL) == Decimal("241.99")


def test_a_frozen_breakdown_reads_back_digit_for_digit(world):
    price = preview(world, n_rate=0.7)
    frozen = json.loads(json.dumps(price.to_json()))
    StockCost.objects.create(
        stock=BaseStock.objects.get(code="UAN"),
        effective_from=today(),
        amount=Decimal("9.0000"),
        unit="lb",
    )
    assert PriceBreakdown.from_json(frozen) == price
    assert frozen["material"][0]["cost_per_lb"] == "0.1800"
