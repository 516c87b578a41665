"""Margin policy and floor, truck loads, the customer's view, and inputs that are refused."""

from decimal import Decimal

import pytest

from orders.pricing import (
    MarginKind,
    MarginPolicy,
    Override,
    PackageKind,
    PackageOption,
    PricingError,
    QuantityBreak,
    QuoteLine,
    RecipeLine,
    StepCode,
    TonnageFee,
    Truck,
    batch_count,
    customer_lines,
    package_count,
    plan_loads,
    price_breaks,
    price_line,
    price_quote,
)
from orders.pricing.margin import bands
from orders.pricing.unit_prices import price_per_unit
from tests.orders.pricing.pricing_cases import (
    BULK,
    MINNESOTA,
    D,
    delivery,
    line,
    policy,
    rates,
    recipe,
    terms,
    tote,
    truck,
    zone,
)

# One tote, 1,000 lb at 1.00, nothing else: the cost is 1,000.00 whatever the terms.
THOUSAND = (("1000", "1"),)


def thousand(**changes):
    return line(THOUSAND, tote(price="0"), **changes)


def priced(margin, **changes):
    return price_line(thousand(**changes), terms(margin))


@pytest.mark.parametrize(
    ("kind", "pct", "price"),
    [
        # Gross margin: 1,000 is 75 % of the price. Markup: a quarter of the cost is added.
        (MarginKind.GROSS_MARGIN, "25", "1333.33"),
        (MarginKind.MARKUP, "25", "1250.00"),
        (MarginKind.GROSS_MARGIN, "50", "2000.00"),
        (MarginKind.MARKUP, "150", "2500.00"),
    ],
)
def test_gross_margin_is_percent_of_price_and_markup_percent_of_cost(kind, pct, price):
    answer = priced(policy(pct, kind=kind))
    assert answer.price_total == D(price)
    assert answer.margin_pct.quantize(D("0.01")) == D(pct)


def test_passed_through_charges_carry_no_margin():
    # 2,855.1 lb of Minnesota tonnage: 1.81. Cost 300.43 + 140.00 tote; half of the price.
    charged = policy("50", pass_through=frozenset())
    with_margin = price_line(line(), terms(charged, rates(tonnage=MINNESOTA)))
    at_cost = price_line(line(), terms(policy("50"), rates(tonnage=MINNESOTA)))
    assert at_cost.price_total == D("882.67")  # 2 x 440.43 + 1.81
    assert with_margin.price_total == D("884.48")  # 2 x 442.24


def test_a_margin_exactly_at_the_floor_needs_no_approval():
    for pct in ("17", "33.3", "0"):
        answer = priced(policy(pct, floor=pct))
        assert not answer.needs_approval
        assert answer.approval_reason is None


def test_a_margin_below_the_floor_needs_the_office_and_says_why():
    # 10 % of the price on 1,000 is 111.11; the floor of 18 % would be 219.51.
    answer = priced(policy("25", floor="18"), override=Override(margin_pct=D(10)))
    assert answer.needs_approval
    assert answer.approval_reason == (
        "A margin of 10 % is below the floor of 18 % for contractor, $108.40 short; "
        "the office must approve it."
    )
    assert answer.price_total == D("1111.11")


def test_a_price_below_cost_says_so():
    answer = priced(policy("25"), override=Override(price_total=D("990.00")))
    assert answer.amount(StepCode.MARGIN) == D("-10.00")
    assert answer.approval_reason == (
        "The price is $10.00 below cost for contractor, $10.00 short; the office must approve it."
    )


def test_a_price_at_cost_is_below_the_floor_and_not_below_cost():
    # A floor of 18 % of the price on 1,000 of cost is 1,000 x 18 / 82 = 219.51.
    answer = priced(policy("25", floor="18"), override=Override(price_total=D("1000.00")))
    assert answer.approval_reason == (
        "A margin of 0 % is below the floor of 18 % for contractor, $219.51 short; "
        "the office must approve it."
    )


def test_a_price_of_nothing_has_no_margin_percentage():
    answer = priced(policy("25", floor="5"), override=Override(price_total=D(0)))
    assert answer.margin_pct is None
    assert answer.needs_approval


def test_a_quantity_break_that_lands_below_the_floor_needs_approval_too():
    breaks = (QuantityBreak(above_gal=D(100), points_off=D(20)),)
    assert priced(policy("25", floor="18", breaks=breaks)).needs_approval


@pytest.mark.parametrize(
    ("override", "price"),
    [
        (Override(margin_pct=D(40)), "1666.67"),  # 1,000 / 0.6
        (Override(margin_pct=D("-25")), "800.00"),  # 1,000 / 1.25
        (Override(price_total=D("1500.50")), "1500.50"),
        (Override(price_per_gal=D("4.9999")), "1324.97"),  # 265 x 4.9999 = 1,324.9735
    ],
)
def test_a_rep_may_set_margin_or_price(override, price):
    answer = priced(policy("25"), override=override)
    assert answer.price_total == answer.total == D(price)
    assert "set by the rep" in answer.steps[-1].basis


def test_an_asked_price_per_gallon_is_the_price_per_gallon_shown():
    answer = priced(policy("25"), override=Override(price_per_gal=D("4.9999")))
    assert answer.price_per_gal == D("4.9999")


def test_a_price_set_by_the_rep_includes_what_is_passed_through():
    # 1,000.00 of material, 1,000 lb = 0.5 ton at 1.27 = 0.635 -> 0.64; 1,200 leave 199.36.
    order = thousand(override=Override(price_total=D("1200.00")))
    answer = price_line(order, terms(policy("25"), rates(tonnage=MINNESOTA)))
    assert answer.amount(StepCode.MARGIN) == D("199.36")
    assert answer.price_total == D("1200.00")


def test_the_table_of_quantities_follows_the_policy_not_the_rep():
    order = thousand(override=Override(price_total=D("5000.00")))
    (row,) = price_breaks(order, terms(policy("50")), tank_capacity_gal=D(1000))
    assert row.price_total == D("2000.00")


def test_the_table_of_quantities_shows_each_break_and_twice_the_last():
    # Whole totes of 265 gal: 265 as asked; 500 and 1,000 are 2 and 4 totes; 2,000 are 8.
    breaks = tuple(
        QuantityBreak(above_gal=D(gal), points_off=D(off)) for gal, off in ((500, 2), (1000, 5))
    )
    rows = price_breaks(line(), terms(policy("30", breaks=breaks)), tank_capacity_gal=D(1000))
    assert [(row.packages, row.volume_gal) for row in rows] == [
        (1, D(265)),
        (2, D(530)),
        (4, D(1060)),
        (8, D(2120)),
    ]


def test_bands_split_the_gallons_at_each_break_reached():
    breaks = tuple(
        QuantityBreak(above_gal=D(gal), points_off=D(off)) for gal, off in ((500, 2), (1000, 5))
    )
    steps = policy("30", breaks=breaks)
    assert bands(steps, D(500)) == ((D(500), D(30)),)
    assert bands(steps, D(800)) == ((D(500), D(30)), (D(300), D(28)))
    assert bands(steps, D(2000)) == ((D(500), D(30)), (D(500), D(28)), (D(1000), D(25)))


def test_the_lower_payload_of_gross_weight_and_legal_limit_counts():
    assert truck("33000").payload_lb == D(47000)
    assert truck("33000", payload_limit_lb=D(40000)).payload_lb == D(40000)
    assert truck("33000", payload_limit_lb=D(60000)).payload_lb == D(47000)


def test_the_empty_tote_counts_in_the_weight_of_a_load():
    # 10 totes of 4,700 lb net fill 47,000 lb exactly; with 1 lb of tare only 9 fit.
    bare = line((("47000", "0.1"),), tote(tare="0"), packages=10)
    weighed = line((("47000", "0.1"),), tote(tare="1"), packages=10)
    assert len(plan_loads([bare], delivery(zone()))) == 1
    loads = plan_loads([weighed], delivery(zone()))
    assert [load.packages for load in loads] == [((0, 9),), ((0, 1),)]
    # A package as heavy as the payload may still ride alone.
    heaviest = line((("47000", "0.1"),), tote(tare="0"))
    assert len(plan_loads([heaviest], delivery(zone()))) == 1


def test_places_on_the_deck_split_loads_as_well():
    small = line((("1000", "0.1"),), packages=10)
    loads = plan_loads([small], delivery(zone(), truck(package_places=4)))
    assert [load.packages for load in loads] == [((0, 4),), ((0, 4),), ((0, 2),)]


def test_a_light_package_fills_the_room_a_heavy_one_leaves():
    # Payload 10,000: one tote of 6,000 lb and four drums of 1,000 lb ride together.
    heavy = line((("12000", "0.1"),), tote(tare="0"), packages=2)
    light = line((("5000", "0.1"),), tote(tare="0", fill="60"), packages=5)
    loads = plan_loads([light, heavy], delivery(zone(), truck("70000")))
    assert [load.packages for load in loads] == [((1, 1), (0, 4)), ((1, 1), (0, 1))]


def test_bulk_rides_in_tankers_of_its_own():
    bulk = line((("60000", "0.1"),), BULK, bulk_gal=D(5500))
    loads = plan_loads([line(), bulk], delivery(zone(), tanker=truck(name="tanker")))
    assert [(load.truck, load.weight_lb, load.bulk_line) for load in loads] == [
        ("truck", D("2985.1"), None),
        ("tanker", D(30000), 1),
        ("tanker", D(30000), 1),
    ]


def test_the_freight_sentence_counts_mixed_packages_as_packages():
    drum = PackageOption(kind="drum", name="drum", plural_name="drums", fill_gal=D(55))
    quote = price_quote([line(), line(package=drum)], terms(delivery=delivery(zone("100"))))
    assert "(2 packages, zone B, 1 truck load at $100.00)" in quote.lines[0].steps[7].basis


def test_the_customer_sees_product_open_charges_and_deposit_only():
    order = line(package=tote(PackageKind.TOTE_DEPOSIT, price="0", deposit_each=D(150)))
    conditions = terms(
        policy("30"),
        rates("1.5", "75", "0.12", "45", MINNESOTA),
        delivery=delivery(zone("60")),
        shown_to_customer=frozenset({StepCode.FREIGHT}),
    )
    # Cost 300.43 + 4.51 + 75 + 31.80 + 45 + 60 freight = 516.74; x 30/70 = 221.46.
    # Product 516.74 + 221.46 - 60.00 = 678.20; the fee is passed through, so it is shown.
    price = price_line(order, conditions)
    seen = [(row.code, row.label, str(row.amount)) for row in customer_lines(price)]
    assert seen == [
        ("product", "Product", "678.20"),
        ("tonnage_fee", "State tonnage fee", "1.81"),
        ("freight", "Freight", "60.00"),
        ("deposit", "Deposit", "150.00"),
    ]


def test_a_quote_below_the_floor_gives_a_reason_for_each_such_line():
    floor = terms(policy("25", floor="20"))
    cheap = thousand(override=Override(margin_pct=D(5)))
    quote = price_quote([thousand(), cheap], floor)
    assert quote.needs_approval
    assert quote.approval_reasons == (quote.lines[1].approval_reason,)
    assert not price_quote([thousand()], floor).needs_approval


def test_batches_and_packages_follow_from_volume():
    assert [batch_count(D(gal), D(1000)) for gal in ("999", "1000", "1000.1")] == [1, 1, 2]
    assert package_count(D(1325), D(265)) == 5


def test_a_volume_that_leaves_a_part_filled_package_is_refused_with_the_choices():
    with pytest.raises(PricingError, match="order 3 or 4 of 265 gal") as refused:
        package_count(D(1000), D(265))
    assert refused.value.field == "volume_gal"


def test_nitrogen_may_be_all_of_a_product_but_no_more():
    assert line(n_pct=D(100)).n_pct == 100


def test_a_package_is_not_filled_beyond_its_rated_load():
    rated = tote(max_net_lb=D(3000))
    assert line((("6000", "0.1"),), rated, packages=2).mass_lb == 6000
    with pytest.raises(PricingError, match="would hold 3,001 lb, rated 3,000 lb"):
        line((("6002", "0.1"),), rated, packages=2)


REFUSED = [
    ("recipe", lambda: line(())),
    ("recipe", lambda: QuoteLine(**twice())),
    ("recipe.A.lb", lambda: stock(lb=D(0))),
    ("recipe.A.lb", lambda: stock(lb=100.0)),
    ("recipe.A.cost_per_lb", lambda: stock(cost_per_lb=D("-0.01"))),
    ("recipe.A.cost_per_lb", lambda: stock(cost_per_lb=0.25)),
    ("recipe.A.cost_per_lb", lambda: stock(cost_per_lb=D("NaN"))),
    ("recipe.A.cost_per_lb", lambda: stock(cost_per_lb=D("Infinity"))),
    ("package.kind", lambda: tote("barrel")),
    ("package.fill_gal", lambda: tote(fill="0")),
    ("package.tare_lb", lambda: tote(tare="-1")),
    ("package.price_each", lambda: tote(price="-1")),
    ("package.deposit_each", lambda: tote(deposit_each=D(100))),
    ("package.deposit_each", lambda: tote(PackageKind.TOTE_DEPOSIT)),
    ("package.max_net_lb", lambda: tote(max_net_lb=D(0))),
    ("package.kind", lambda: tote(PackageKind.BULK)),
    ("packages", lambda: line(packages=0)),
    ("packages", lambda: line(packages=None)),
    ("packages", lambda: line(packages=D(2))),
    ("packages", lambda: line(packages=True)),
    ("packages", lambda: line(package=BULK, packages=1, bulk_gal=D(100))),
    ("bulk_gal", lambda: line(bulk_gal=D(100))),
    ("bulk_gal", lambda: line(package=BULK, bulk_gal=D(0))),
    ("bulk_gal", lambda: line(package=BULK, bulk_gal=100.0)),
    ("batches", lambda: line(batches=0)),
    ("n_pct", lambda: line(n_pct=D(-1))),
    ("n_pct", lambda: line(n_pct=D("100.1"))),
    ("n_pct", lambda: line(n_pct=24.0)),
    ("n_rate_lb_per_1000sqft", lambda: line(n_rate_lb_per_1000sqft=D(0))),
    ("override", Override),
    ("override", lambda: Override(margin_pct=D(1), price_total=D(1))),
    ("override.margin_pct", lambda: Override(margin_pct=D(100))),
    ("override.price_total", lambda: Override(price_total=D(-1))),
    ("override.price_per_gal", lambda: Override(price_per_gal=4.5)),
    ("rates.shrink_pct", lambda: rates(shrink="100")),
    ("rates.blending_per_batch", lambda: rates(batch="-1")),
    ("rates.blending_per_gal", lambda: rates(gal="-1")),
    ("rates.lab_per_batch", lambda: rates(lab="-1")),
    ("tonnage_fee.per_ton", lambda: TonnageFee(state="X", per_ton=D(-1), citation="law")),
    ("tonnage_fee.citation", lambda: TonnageFee(state="X", per_ton=D(1), citation=" ")),
    ("margin.target_pct", lambda: policy("100")),
    ("margin.target_pct", lambda: policy("-1")),
    ("margin.target_pct", lambda: MarginPolicy(tier="t", target_pct=25.0)),
    ("margin.floor_pct", lambda: policy("20", floor="21")),
    ("margin.kind", lambda: policy(kind="guess")),
    ("margin.breaks", lambda: policy(breaks=breaks((500, 1), (500, 2)))),
    ("margin.breaks", lambda: policy(breaks=breaks((900, 1), (500, 2)))),
    ("margin.breaks", lambda: policy("20", breaks=breaks((500, 21)))),
    ("margin.breaks.above_gal", lambda: breaks((0, 1))),
    ("margin.breaks.points_off", lambda: breaks((10, -1))),
    ("margin.pass_through", lambda: policy(pass_through=frozenset({StepCode.MATERIAL}))),
    ("shown_to_customer", lambda: terms(shown_to_customer=frozenset({StepCode.MARGIN}))),
    ("truck.empty_lb", lambda: truck("80000")),
    ("truck.gross_limit_lb", lambda: Truck(name="t", empty_lb=D(1), gross_limit_lb=D(0))),
    ("truck.payload_limit_lb", lambda: truck(payload_limit_lb=D(0))),
    ("truck.package_places", lambda: truck(package_places=0)),
    ("truck.capacity_gal", lambda: truck(capacity_gal=D(0))),
    ("zone.per_load", lambda: zone(load="-1")),
    ("zone.minimum", lambda: zone(minimum="-1")),
    ("lines", lambda: price_quote([], terms())),
    ("delivery.tanker", lambda: bulk_without_tanker()),
    ("package", lambda: plan_loads([line()], delivery(zone(), truck("79000")))),
    ("tank_capacity_gal", lambda: price_breaks(line(), terms(), tank_capacity_gal=D(0))),
    ("quantities", lambda: table_at(D(0))),
    ("volume_gal", lambda: batch_count(D(0), D(100))),
    ("quantity", lambda: price_per_unit(D(1), D(0))),
]


def stock(**changes):
    return RecipeLine(**{"code": "A", "name": "a", "lb": D(1), "cost_per_lb": D(1), **changes})


def twice():
    same = recipe(("1", "1")) * 2
    return {"recipe": same, "package": tote(), "packages": 1, "batches": 1, "n_pct": D(1)}


def breaks(*rows):
    return tuple(QuantityBreak(above_gal=D(gal), points_off=D(off)) for gal, off in rows)


def bulk_without_tanker():
    return plan_loads([line(package=BULK, bulk_gal=D(100))], delivery(zone()))


def table_at(gallons):
    return price_breaks(line(), terms(), tank_capacity_gal=D(100), quantities=[gallons])


@pytest.mark.parametrize(("field", "attempt"), REFUSED)
def test_input_that_cannot_be_priced_is_refused_by_name(field, attempt):
    with pytest.raises(PricingError) as refused:
        attempt()
    assert refused.value.field == field
    assert refused.value.message.endswith(".")
    assert str(refused.value) == f"{field}: {refused.value.message}"


def test_other_currencies_are_printed_in_the_sentences():
    answer = price_line(line(), terms(currency="EUR"))
    assert answer.steps[4].basis == "1 tote at €140.00"


def test_a_step_the_price_does_not_have_is_zero():
    assert priced(policy()).amount(StepCode.DEPOSIT) == Decimal("0.00")
