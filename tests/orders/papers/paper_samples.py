"""Demo view models for the paper tests: an invented plant, customer and prices."""

import dataclasses
import datetime as dt
from decimal import Decimal

from formulas.engine.result import Severity
from orders.labels.view_models import GuaranteeLine, LabelDraftView, NotClaimed, OtherIngredient
from orders.papers.view_models import (
    AnalysisFigure,
    BatchTicketView,
    ChargeStep,
    LoadPartLine,
    PaperFinding,
    StockSafety,
)
from orders.quoting.view_models import QuoteCharge, QuoteLine, QuoteView
from orders.records.letterhead import Party, Plant

LONG_NAME = (
    "Summer evenly fed slow release turf blend with chelated iron and manganese for the"
    " northern greens of the upper demo valley"
)
assert len(LONG_NAME) >= 120
HOSTILE = 'Tom & "Jane" <b>bold</b> <script>x</script> </para> \x00\x07\u202e\u200b cafe\u0301'

PLANT = Plant(
    name="Demo Liquid Blending Plant",
    address_lines=("1 Invented Road", "Sampleton, Demo County 00000"),
    phone="555-0100",
    email="office@plant.example",
    registrations=("Demo fertilizer license 0000",),
)
CUSTOMER = Party(
    name="Example Lawn Care",
    address_lines=("22 Made-up Lane", "Sampleton, Demo County 00000"),
    contact="Pat Example",
)
DEPOSIT = QuoteCharge("Tote deposit", Decimal("500.00"), "2 returnable totes at $250.00")
FREIGHT = QuoteCharge("Freight", Decimal("310.00"), "zone B, 1 load")


def quote_line(**changes):
    line = QuoteLine(
        blend_name="Half slow summer 24-0-3",
        blend_reference="B-00042 rev 1",
        grade="24-0-3",
        analysis=(
            AnalysisFigure("N", 24.0),
            AnalysisFigure("P2O5", 1.0),
            AnalysisFigure("K2O", 3.04),
            AnalysisFigure("Fe", 0.125),
        ),
        slow_release_pct=50.0,
        density_lb_per_gal=10.774,
        package_name="275 gal returnable tote, filled to 265 gal",
        package_count=2,
        volume_gal=530.0,
        mass_lb=5710.2,
        price_per_gal=Decimal("6.4150"),
        price_per_package=Decimal("1699.98"),
        line_total=Decimal("3399.95"),
        n_rate_lb_per_1000sqft=0.7,
        price_per_1000sqft=Decimal("1.74"),
        price_per_lb_n=Decimal("2.48"),
    )
    return dataclasses.replace(line, **changes)


def quote(line_count=1, **changes):
    lines = changes.pop("lines", None) or tuple(quote_line() for _ in range(line_count))
    goods = sum(line.line_total for line in lines)
    view = QuoteView(
        plant=PLANT,
        number="Q-2026-00042",
        quoted_on=dt.date(2026, 3, 2),
        valid_until=dt.date(2026, 3, 16),
        customer=CUSTOMER,
        ship_to=Party("North shop", ("4 Far Road", "Sampleton, Demo County 00000")),
        lines=lines,
        deposits=(DEPOSIT,),
        freight=(FREIGHT,),
        total=goods + DEPOSIT.amount + FREIGHT.amount,
        prepared_by="Robin Rep",
        notes="Two totes, lift gate needed.",
        terms=("Net 30 days.", "Prices hold for the quantities shown."),
        accept_url="https://blendshop.example/quotes/answer/abcDEF123-_:signed/",
        cautions=(
            PaperFinding(
                Severity.CAUTION,
                "Above 85 °F spray in the evening or lower the rate.",
                "common practice, no source",
            ),
        ),
    )
    return dataclasses.replace(view, **changes)


def charge_steps(count, name=None):
    stocks = (
        ("WATER", "Water", 410.0, 1.0, 49.2, ""),
        ("UTZ28", "Urea-triazone solution 28-0-0", 1225.0, 5.0, 114.5, "Start the agitator first"),
        ("UAN32", "UAN solution 32-0-0", 655.0, 5.0, 59.2, ""),
        ("KAC", "Potassium acetate solution 0-0-25 (K2O)", 344.0, 1.0, 31.9, "Add slowly"),
        ("FEEDTA", "Iron EDTA chelate 4.5 % Fe", 80.5, 0.5, 7.4, ""),
    )
    steps, running = [], 0.0
    for index in range(count):
        code, stock, weight, step_lb, volume, instruction = stocks[index % len(stocks)]
        running += weight
        steps.append(ChargeStep(code, name or stock, weight, running, step_lb, volume, instruction))
    return tuple(steps)


def batch_ticket(step_count=5, **changes):
    steps = changes.pop("steps", None) or charge_steps(step_count)
    view = BatchTicketView(
        plant=PLANT,
        number="B-2026-00107",
        page_url="https://blendshop.example/batches/B-2026-00107/",
        planned_on=dt.date(2026, 3, 9),
        product_name="Half slow summer 24-0-3",
        blend_reference="B-00042 rev 1",
        grade="24-0-3",
        parts=(
            LoadPartLine(
                "Example Lawn Care",
                "O-2026-00031",
                "1 × 275 gal returnable tote, filled to 265 gal",
                265.0,
            ),
        ),
        tank_name="Mix tank 2 (1,000 gal)",
        target_volume_gal=265.0,
        target_mass_lb=2714.5,
        steps=steps,
        safety=(
            StockSafety(
                "UAN32",
                "UAN solution 32-0-0",
                ("Eye and skin irritant", "Corrodes copper, brass and zinc"),
                ("goggles", "nitrile gloves"),
                "supplier SDS",
            ),
            StockSafety("UTZ28", "Urea-triazone solution", (), ("goggles", "gloves")),
        ),
        findings=(
            PaperFinding(
                Severity.CAUTION,
                "Iron EDTA with urea-triazone: chelated iron only.",
                "common practice, no source",
            ),
            PaperFinding(Severity.INFO, "Density is an estimate by ideal mixing."),
        ),
        jar_test_steps=(
            "Fill a clear quart jar with the planned share of water.",
            "Add each stock in the order and share of this ticket.",
            "Invert ten times, wait 15 minutes, look; look again after 2 hours.",
        ),
        previous_product="18-0-0 with ferrous sulfate",
        cleanout_instruction="Acid iron residue: rinse three times, last rinse clear.",
        density_low_lb_per_gal=10.60,
        density_high_lb_per_gal=10.85,
        ph_low=7.5,
        ph_high=9.0,
        expected_appearance="clear, dark red",
        retained_sample="16 fl oz, keep 12 months",
        notes="Pick-up at 7:00, driver calls ahead.",
        due_on=dt.date(2026, 3, 12),
    )
    return dataclasses.replace(view, **changes)


def label_draft(**changes):
    view = LabelDraftView(
        plant=PLANT,
        number="L-2026-00107",
        drafted_on=dt.date(2026, 3, 9),
        product_name="Half slow summer 24-0-3",
        grade="24-0-3",
        guarantees=(
            GuaranteeLine("N", "Total Nitrogen (N)", Decimal(24)),
            GuaranteeLine("N.ammoniacal", "Ammoniacal Nitrogen", Decimal("2.1"), "N"),
            GuaranteeLine("N.nitrate", "Nitrate Nitrogen", Decimal("2.1"), "N"),
            GuaranteeLine("N.urea", "Urea Nitrogen", Decimal("7.8"), "N"),
            GuaranteeLine(
                "N.slow", "Slowly Available Water Soluble Nitrogen", Decimal("12.0"), "N", "*"
            ),
            GuaranteeLine("K2O", "Soluble Potash (K2O)", Decimal(3)),
            GuaranteeLine("Fe", "Iron (Fe)", Decimal("0.10")),
            GuaranteeLine("Fe.chelated", "Chelated Iron", Decimal("0.10"), "Fe"),
        ),
        derived_from=(
            "Urea-Triazone Solution",
            "Urea Ammonium Nitrate Solution",
            "Potassium Acetate",
            "Iron EDTA",
        ),
        guarantor=Party(PLANT.name, PLANT.address_lines),
        net_mass_lb=2855.1,
        net_mass_kg=1295.05,
        net_volume_gal=265.0,
        net_volume_l=1003.1,
        density_lb_per_gal=10.774,
        slow_release_statement="*12.0% slowly available nitrogen from urea-triazone solution.",
        other_ingredients=(
            OtherIngredient("Humic acids", Decimal("1.0"), "leonardite"),
            OtherIngredient("NBPT", Decimal("0.04")),
        ),
        purchaser=CUSTOMER,
        delivered_on=dt.date(2026, 3, 10),
        directions=("Apply 3.4 fl oz per 1,000 sq ft in 2 gal of water.", "Agitate before use."),
        cautions=("Do not apply near water, storm drains or drainage ditches.",),
        not_claimed=(
            NotClaimed("Zn", 0.03, "Below the 0.05 % minimum.", "WAC 16-200-711(2)"),
            NotClaimed("P2O5", 0.4, "Below 1 %."),
        ),
    )
    return dataclasses.replace(view, **changes)
