"""Whole prices worked by hand, every step. Dollars are demo, state fees are cited."""

from decimal import Decimal

import pytest

from orders.pricing import (
    MarginKind,
    PackageKind,
    PackageOption,
    QuantityBreak,
    StepCode,
    price_breaks,
    price_line,
    price_quote,
)
from tests.orders.pricing.pricing_cases import (
    BULK,
    MINNESOTA,
    OREGON,
    D,
    delivery,
    line,
    policy,
    rates,
    terms,
    tote,
    truck,
    zone,
)

DRUM = PackageOption(
    kind=PackageKind.DRUM,
    name="drum",
    plural_name="drums",
    fill_gal=D(53),
    tare_lb=D(22),
    price_each=D("32.50"),
)

# One tote sold, picked up, gross margin 30 %, Minnesota's fee passed on at cost.
#   material   2,000 x 0.15 = 300.00; 855.1 x 0.0005 = 0.42755 -> 0.43         300.43
#   shrink     1.5 % of 300.43 = 4.50645                                         4.51
#   blending   1 x 75.00                                                        75.00
#              265 gal x 0.12                                                   31.80
#   package    1 x 140.00                                                      140.00
#   laboratory 1 x 45.00                                                        45.00
#   tonnage    2,855.1 / 2,000 = 1.42755 tons x 1.27 = 1.8129885                 1.81
#   freight    picked up                                                         0.00
#   margin     on 300.43 + 4.51 + 75 + 31.80 + 140 + 45 = 596.74;
#              596.74 x 30/70 = 255.745714                                     255.75
#   price      596.74 + 1.81 + 255.75                                          854.30
#   per gal    854.30 / 265 = 3.223774; per lb /2,855.1 = 0.299219
#   per lb N   2,855.1 x 24 % = 685.224 lb; 854.30 / 685.224 = 1.246746; x 0.7 = 0.872722
ONE_TOTE = (
    line(n_rate_lb_per_1000sqft=D("0.7")),
    terms(policy("30"), rates("1.5", "75", "0.12", "45", MINNESOTA)),
    "300.43 4.51 75.00 31.80 140.00 45.00 1.81 0.00 255.75",
    {
        "price_total": "854.30",
        "deposit_total": "0.00",
        "total": "854.30",
        "price_per_gal": "3.2238",
        "price_per_package": "854.3000",
        "price_per_lb": "0.2992",
        "price_per_lb_n": "1.2467",
        "price_per_1000sqft": "0.8727",
    },
)

# Five totes on deposit, delivered in three trips, a quantity break, Oregon's fee passed on.
#   material   10,000 x 0.28 = 2,800.00; 4,275.5 x 0.11 = 470.305 -> 470.31 (half up)  3,270.31
#   shrink     2 % of 3,270.31 = 65.4062                                                 65.41
#   blending   2 x 75.00                                                                150.00
#              1,325 gal x 0.12                                                         159.00
#   package    5 x 10.00 handling                                                        50.00
#   laboratory 2 x 45.00                                                                 90.00
#   tonnage    14,275.5 / 2,000 = 7.13775 tons x 0.45 = 3.2119875                         3.21
#   freight    a tote weighs 14,275.5 / 5 + 130 = 2,985.1 lb; the truck may carry
#              26,000 - 20,000 = 6,000 lb, so 2 a trip, 3 trips: 3 x 120 + 5 x 15       435.00
#   margin     28 %, 25 % on the gallons beyond 1,000.
#              growing costs 3,270.31 + 65.41 + 159 + 50 = 3,544.72
#                x 1,000/1,325 x 28/72 = 1,040.379036; x 325/1,325 x 25/75 = 289.819874
#              fixed costs 150 + 90 + 435 = 675; x 28/72 = 262.50
#              1,040.379036 + 289.819874 + 262.50 = 1,592.698910                      1,592.70
#   price      3,544.72 + 675 + 3.21 + 1,592.70                                       5,815.63
#   deposit    5 x 150.00                                                               750.00
#   per gal    5,815.63 / 1,325 = 4.389155; per tote 1,163.126
FIVE_TOTES = (
    line(
        (("10000", "0.28"), ("4275.5", "0.11")),
        tote(PackageKind.TOTE_DEPOSIT, price="10", deposit_each=D(150)),
        packages=5,
        batches=2,
    ),
    terms(
        policy("28", breaks=(QuantityBreak(above_gal=D(1000), points_off=D(3)),)),
        rates("2", "75", "0.12", "45", OREGON),
        delivery=delivery(
            zone("120", "15"), truck("20000", name="flatbed", gross_limit_lb=D(26000))
        ),
    ),
    "3270.31 65.41 150.00 159.00 50.00 90.00 3.21 435.00 1592.70 750.00",
    {
        "price_total": "5815.63",
        "deposit_total": "750.00",
        "total": "6565.63",
        "price_per_gal": "4.3892",
        "price_per_package": "1163.1260",
    },
)

# Eight drums at a markup of 18 % on cost, no nitrogen, picked up.
#   material 4,600 x 0.2 = 920.00; blending 60.00 + 424 x 0.105 = 44.52; drums 8 x 32.50 = 260.00
#   margin   18 % of 1,284.52 = 231.2136                                                 231.21
#   price    1,515.73; per gal /424 = 3.574835; per drum /8 = 189.46625 -> 189.4663 (half up)
EIGHT_DRUMS = (
    line((("4600", "0.2"),), DRUM, packages=8, n_pct=D(0), n_rate_lb_per_1000sqft=D(1)),
    terms(policy("18", kind=MarginKind.MARKUP), rates(batch="60", gal="0.105")),
    "920.00 0.00 60.00 44.52 260.00 0.00 0.00 0.00 231.21",
    {
        "total": "1515.73",
        "price_per_gal": "3.5748",
        "price_per_package": "189.4663",
        "price_per_lb_n": None,
        "price_per_1000sqft": None,
    },
)

# 4,000 gal in bulk, freight passed on at cost.
#   material 43,000 x 0.16 = 6,880.00; shrink 1 % = 68.80; blending 2 x 75 + 4,000 x 0.1
#   freight  43,000 lb fits one tanker (47,000), 4,000 gal need two of 3,000 gal:
#            2 x 200 + 4,000 x 0.04 = 560, minimum 600                                   600.00
#   margin   on 6,880 + 68.80 + 150 + 400 = 7,498.80; x 20/80                          1,874.70
#   price    9,973.50; per gal 2.493375
BULK_LOADS = (
    line((("43000", "0.16"),), BULK, bulk_gal=D(4000), batches=2),
    terms(
        policy("20", pass_through=frozenset({StepCode.FREIGHT})),
        rates("1", "75", "0.1"),
        delivery=delivery(
            zone("200", "9", "0.04", "600"), tanker=truck(name="tanker", capacity_gal=D(3000))
        ),
    ),
    "6880.00 68.80 150.00 400.00 0.00 0.00 0.00 600.00 1874.70",
    {"total": "9973.50", "price_per_gal": "2.4934", "price_per_package": None},
)

WORKED = pytest.mark.parametrize(
    ("order", "conditions", "amounts", "results"),
    [ONE_TOTE, FIVE_TOTES, EIGHT_DRUMS, BULK_LOADS],
    ids=["one tote", "five totes", "eight drums", "bulk"],
)


@WORKED
def test_a_price_is_what_it_is_by_hand(order, conditions, amounts, results):
    priced = price_line(order, conditions)
    assert [str(step.amount) for step in priced.steps] == amounts.split()
    for name, expected in results.items():
        found = getattr(priced, name)
        assert (found if found is None else str(found)) == expected, name


@WORKED
def test_steps_come_in_order_and_run_up_to_the_total(order, conditions, amounts, results):
    priced = price_line(order, conditions)
    absent = {StepCode.DISCOUNT, StepCode.QUOTE_DISCOUNT} | (
        set() if priced.deposit_total else {StepCode.DEPOSIT}
    )
    order_of_codes = [code for code in StepCode if code not in absent]
    assert [step.code for step in priced.steps] == order_of_codes
    running = D(0)
    for step in priced.steps:
        running += step.amount
        assert step.running_total == running
    assert running == priced.total == priced.price_total + priced.deposit_total


def test_every_step_says_how_it_was_computed():
    order, conditions, *_ = FIVE_TOTES
    basis = {step.code: step.basis for step in price_line(order, conditions).steps}
    assert basis == {
        StepCode.MATERIAL: "14,275.5 lb of recipe at today's cost",
        StepCode.SHRINK: "2 % shrink on material",
        StepCode.BLENDING_BATCH: "2 batches at $75.00",
        StepCode.BLENDING_VOLUME: "1,325 gal at $0.12",
        StepCode.PACKAGE: "5 totes at $10.00",
        StepCode.LAB: "2 batches at $45.00",
        StepCode.TONNAGE: "7.138 tons at $0.45, Oregon (OAR 603-059-0020)",
        StepCode.FREIGHT: "5 totes, zone B, 3 truck loads at $120.00, $15.00 a tote",
        StepCode.MARGIN: (
            "contractor: 28 % of the price, on $4,219.72 of cost, 25 % beyond 1,000 gal "
            "(not on batch, lab and freight charges); $3.21 passed on at cost"
        ),
        StepCode.DEPOSIT: "5 totes at $150.00, refunded when returned",
    }


def test_pick_up_and_the_freight_minimum_are_said():
    def freight_basis(case):
        order, conditions, *_ = case
        return next(s.basis for s in price_line(order, conditions).steps if s.code == "freight")

    assert freight_basis(ONE_TOTE) == "picked up at the plant"
    assert freight_basis(BULK_LOADS) == (
        "4,000 gal in bulk, zone B, 2 truck loads at $200.00, $0.04 a gal in bulk, "
        "raised to the minimum of $600.00"
    )


def test_each_stock_is_a_line_of_the_material_step():
    order, conditions, *_ = FIVE_TOTES
    priced = price_line(order, conditions)
    assert [(row.code, str(row.amount)) for row in priced.material] == [
        ("S0", "2800.00"),
        ("S1", "470.31"),
    ]
    assert sum(row.amount for row in priced.material) == priced.amount(StepCode.MATERIAL)


# Two lines share one trip: 3 totes of 2,855.1 + 130 = 2,985.1 lb gross (8,955.3 lb together)
# and 1 tote of 2,400 + 130 = 2,530 lb; 11,485.3 lb in all. 1 x 250 + 4 x 20 = 330.00.
# 330 x 8,955.3/11,485.3 = 257.307 and 330 x 2,530/11,485.3 = 72.693: 257.31 + 72.69.
def test_lines_share_loads_and_freight_by_weight_to_the_cent():
    lines = [
        line((("8565.3", "0.2"),), packages=3),
        line((("2400", "0.3"),), packages=1),
    ]
    quote = price_quote(lines, terms(delivery=delivery(zone("250", "20"))))
    assert [line.amount(StepCode.FREIGHT) for line in quote.lines] == [D("257.31"), D("72.69")]
    assert [load.packages for load in quote.loads] == [((0, 3), (1, 1))]
    assert quote.loads[0].weight_lb == D("11485.3")
    assert quote.freight_total == D("330.00")
    assert quote.total == sum(line.total for line in quote.lines)
    assert quote.lines[1].steps[7].basis == (
        "share by weight, 2,530 of 11,485.3 lb, of $330.00 "
        "(4 totes, zone B, 1 truck load at $250.00, $20.00 a tote)"
    )


def test_quantity_breaks_count_the_gallons_of_the_whole_quote():
    by_the_ton = policy("28", breaks=(QuantityBreak(above_gal=D(300), points_off=D(8)),))
    alone = price_line(line(), terms(by_the_ton))
    together = price_quote([line(), line()], terms(by_the_ton)).lines[0]
    assert alone.margin_pct.quantize(D("0.01")) == D("28.00")
    assert together.margin_pct < alone.margin_pct


# Tank of 600 gal; 75 a batch, nothing else but material at 1.00 a gal (2.00 lb at 0.50):
#   265 gal:  265 + 75 = 340;  340 x 20/80 = 85.00                 -> 425.00,   1.603774 per gal
#   1,060 gal (above 1,000: 10 %): 1,060 growing, 2 batches 150
#     1,060 x 1,000/1,060 x 20/80 = 250; 60 x 10/90 = 6.666667; 150 x 20/80 = 37.50
#     1,060 + 150 + 294.17                                         -> 1,504.17, 1.419028
#   2,120 gal: 4 batches 300; 250 + 1,120 x 10/90 = 124.444 + 75   -> 2,869.44, 1.353509
def test_the_table_of_quantities_gives_the_price_per_gallon_at_each_break():
    order = line((("530", "0.50"),), tote(price="0", tare="0"), packages=1)
    conditions = terms(
        policy("20", breaks=(QuantityBreak(above_gal=D(1000), points_off=D(10)),)),
        rates(batch="75"),
    )
    rows = price_breaks(order, conditions, tank_capacity_gal=D(600))
    assert [(row.packages, str(row.price_total), str(row.price_per_gal)) for row in rows] == [
        (1, "425.00", "1.6038"),
        (4, "1504.17", "1.4190"),
        (8, "2869.44", "1.3535"),
    ]


def test_the_table_of_quantities_takes_asked_gallons_in_whole_packages():
    rows = price_breaks(
        line(), terms(), tank_capacity_gal=D(600), quantities=[D(266), D(265), D(500)]
    )
    assert [(row.packages, row.volume_gal) for row in rows] == [(1, D(265)), (2, D(530))]
    bulk = line((("3000", "0.2"),), BULK, bulk_gal=D(280))
    (row,) = price_breaks(bulk, terms(), tank_capacity_gal=D(600), quantities=[D("1000.5")])
    assert (row.packages, row.volume_gal, row.price_per_package) == (0, D("1000.5"), None)


def test_the_asked_quantity_in_the_table_is_the_price_of_the_line():
    order, conditions, *_ = FIVE_TOTES
    rows = price_breaks(order, conditions, tank_capacity_gal=Decimal(1000))
    asked = next(row for row in rows if row.packages == 5)
    assert asked.price_total == price_line(order, conditions).price_total
