"""Rows that were written before their records had types are read for ever.

The files beside this test were written by the code of that time, into the column each is named for.
"""

import datetime as dt
import json
from decimal import Decimal
from pathlib import Path

import pytest

from blendshop.snapshot import SnapshotError
from orders.frozen.consignment import Consignment
from orders.frozen.line_price import LinePrice
from orders.frozen.load_plan import LoadPlan, PhWindow, StockMetal, Weighing
from orders.frozen.tank_contents import TankContents
from orders.pricing import StepCode
from tests.stored_json import holds

WRITTEN = Path(__file__).parent / "written_before"
RECORDS = {
    "batch_plan": LoadPlan,
    "batch_plan_with_metals": LoadPlan,
    "part_delivery": Consignment,
    "addition_step": Weighing,
    "line_price": LinePrice,
    "tank_contents": TankContents,
}


def written(name):
    return json.loads((WRITTEN / f"{name}.json").read_text())


@pytest.mark.parametrize("name", RECORDS)
def test_what_was_written_before_is_read_and_nothing_of_it_is_lost_when_written_again(name):
    stored = written(name)
    again = RECORDS[name].from_json(stored).to_json()
    assert holds(again, {**stored, "version": 1})
    assert RECORDS[name].from_json(again) == RECORDS[name].from_json(stored)


def test_a_plan_of_before_figures_as_it_did():
    """Nothing was known of what is dissolved, and no density was put right."""
    plan = LoadPlan.from_json(written("batch_plan"))
    assert plan.density_correction == 1.0
    assert not any(step.solutes for step in plan.steps)


def test_a_plan_of_before_says_what_it_said():
    plan = LoadPlan.from_json(written("batch_plan"))
    assert [step.code for step in plan.steps] == ["WATER", "UAN", "KAC", "TRZ"]
    assert plan.steps[-1].running_total_lb == plan.mass_lb == 5629.0
    assert plan.promised.minima_pct == {"N": 24.0, "K2O": 3.0}
    assert plan.promised.maxima_pct == {"K2O": 3.6}
    assert (plan.promised.slow_release_min_pct, plan.promised.slow_release_max_pct) == (50, 60)
    assert plan.density_window.low_lb_per_gal == 10.51
    assert plan.density_window.temperature_f == 68.0
    assert isinstance(plan.ph_window, PhWindow)
    assert plan.ph_window.low_ph is None
    assert plan.cleanout.previous_product == ""


def test_a_metal_of_before_keeps_its_source_and_its_day():
    plan = LoadPlan.from_json(written("batch_plan_with_metals"))
    uan = next(step for step in plan.steps if step.code == "UAN")
    assert uan.metals == {
        "As": StockMetal(0.4, "certificate 12", dt.date(2026, 2, 3)),
        "Pb": StockMetal(1.5, "supplier sheet (from memory, unverified)", None),
    }


def test_a_price_of_before_keeps_every_digit():
    price = LinePrice.from_json(written("line_price"))
    assert price.steps[0].code is StepCode.MATERIAL
    assert [str(stock.cost_per_lb) for stock in price.material] == [
        "0.3900", "0.4200", "0.1800", "0.0010",
    ]  # fmt: skip
    assert price.amount(StepCode.MATERIAL) == sum(stock.amount for stock in price.material)
    assert price.margin_pct == Decimal("25.00007320408420226581281423")
    assert (price.blend.name, price.blend.revision_number) == ("Half slow summer", 1)


@pytest.mark.parametrize("name", RECORDS)
def test_a_record_of_newer_code_is_refused_by_name(name):
    record = RECORDS[name]
    with pytest.raises(SnapshotError, match=rf"{record.__name__}\.version: 2 was written by newer"):
        record.from_json({**written(name), "version": 2})
