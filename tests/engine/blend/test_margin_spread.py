"""The spread of a blend as made, against answers worked by hand."""

from math import sqrt

import pytest

from formulas.engine import BadProblem, Share, Stock, evaluate
from formulas.engine.blend.margin_spread import (
    SLOW_RELEASE,
    AssaySpread,
    ScaleSpread,
    Spreads,
    spread_pct,
)

A = Stock("A", "A", 10.0, 0.1, {"N.urea": 20.0, "K2O": 10.0})
B = Stock("B", "B", 10.0, 0.1, {"N.slow": 10.0})
STILL = ScaleSpread()


def spread(assay, scale, batch_lb=1000.0, stocks=(A, B), pct=(50.0, 50.0), **named):
    blend = evaluate(stocks, [Share(s.code, p) for s, p in zip(stocks, pct, strict=True)])
    return spread_pct(blend, stocks, Spreads(assay, scale, named), batch_lb=batch_lb)


def test_assays_of_two_stocks_add_as_squares():
    # N 15 % = 10 from A, 5 from B, each 2 % relative: sqrt(0.2^2 + 0.1^2).
    found = spread(AssaySpread(2.0), STILL)
    assert found["N"] == pytest.approx(sqrt(0.05))
    assert found["K2O"] == pytest.approx(0.1)
    # Slow share 100/3 %: change per point of slow (100 - 33.3)/15, of urea -33.3/15.
    share = sqrt((66.66667 / 15 * 0.1) ** 2 + (33.33333 / 15 * 0.2) ** 2)
    assert found[SLOW_RELEASE] == pytest.approx(share, rel=1e-6)


def test_forms_that_scatter_alone_partly_cancel_and_total_nitrogen_does_not():
    two = Stock("T", "T", 10.0, 0.1, {"N.urea": 10.0, "N.slow": 10.0})
    alone = AssaySpread(0.0, {"N.urea": 1.0, "N.slow": 1.0})
    assert spread(alone, STILL, stocks=(two,), pct=(100.0,))["N"] == pytest.approx(sqrt(0.02))
    together = AssaySpread(0.0, {"N": 1.0})
    found = spread(together, STILL, stocks=(two,), pct=(100.0,))
    assert found["N"] == pytest.approx(0.2)
    assert found["N.urea"] == pytest.approx(0.1)
    assert found[SLOW_RELEASE] == pytest.approx(0.0, abs=1e-12)


def test_total_nitrogen_scatter_leaves_potash_alone():
    assert spread(AssaySpread(0.0, {"N": 1.0}), STILL)["K2O"] == 0.0


def test_a_charge_off_by_some_pounds_moves_the_blend_toward_its_stock():
    # 10 lb of 1000 on each of two charges: (10 - 5) x 0.01 up and (0 - 5) x 0.01 down for K2O.
    assert spread(AssaySpread(), ScaleSpread(10.0))["K2O"] == pytest.approx(sqrt(2) * 0.05)
    # In a tank ten times as large the same pounds count a tenth; a relative error stays.
    assert spread(AssaySpread(), ScaleSpread(10.0), 10_000)["K2O"] == pytest.approx(sqrt(2) * 0.005)
    relative = [spread(AssaySpread(), ScaleSpread(0.0, 2.0), lb)["K2O"] for lb in (1e3, 1e4)]
    # 2 % of 500 lb is 10 lb.
    assert relative == pytest.approx([sqrt(2) * 0.05] * 2)
    both = spread(AssaySpread(), ScaleSpread(10.0, 2.0))["K2O"]
    assert both == pytest.approx(0.1)


def test_a_single_charge_cannot_be_off_in_content():
    found = spread(AssaySpread(), ScaleSpread(10.0, 1.0), stocks=(A,), pct=(100.0,))
    assert set(found.values()) == {0.0}


def test_a_named_stock_has_its_own_spread_and_the_others_the_usual():
    found = spread(AssaySpread(2.0), STILL, B=AssaySpread(0.0))
    assert found["N"] == pytest.approx(0.2)
    assert found["N.slow"] == 0.0


@pytest.mark.parametrize(
    ("assay", "scale", "batch_lb", "field"),
    [
        (AssaySpread(-1.0), STILL, 1000.0, "usual_assay.strength_rsd_pct"),
        (AssaySpread(float("nan")), STILL, 1000.0, "usual_assay.strength_rsd_pct"),
        (AssaySpread(31.0), STILL, 1000.0, "usual_assay.strength_rsd_pct"),
        (AssaySpread(0.0, {"Q": 1.0}), STILL, 1000.0, "usual_assay.content_rsd_pct.Q"),
        (AssaySpread(0.0, {"N": -1.0}), STILL, 1000.0, "usual_assay.content_rsd_pct.N"),
        (AssaySpread(), ScaleSpread(float("inf")), 1000.0, "scale.absolute_lb"),
        (AssaySpread(), ScaleSpread(-1.0), 1000.0, "scale.absolute_lb"),
        (AssaySpread(), ScaleSpread(0.0, 50.0), 1000.0, "scale.relative_pct"),
        (AssaySpread(), STILL, 0.0, "batch_lb"),
        (AssaySpread(), STILL, float("nan"), "batch_lb"),
    ],
)
def test_wrong_input_is_refused_by_name(assay, scale, batch_lb, field):
    with pytest.raises(BadProblem) as refusal:
        spread(assay, scale, batch_lb)
    assert [error.field for error in refusal.value.errors] == [field]


def test_a_stock_that_is_not_there_is_refused_by_name():
    blend = evaluate((A, B), [Share("A", 50.0), Share("B", 50.0)])
    with pytest.raises(BadProblem, match=r"recipe\.1\.code"):
        spread_pct(blend, (A,), Spreads(AssaySpread(), STILL), batch_lb=100.0)
