"""A paper's snapshot survives the trip through JSON, and a damaged one is refused by name."""

import datetime as dt
from decimal import Decimal

import pytest

from blendshop.snapshot import SnapshotError
from orders.papers.view_models import (
    ChargeStep,
    GuaranteeLine,
    LabelDraftView,
    PaperFinding,
    Party,
    Plant,
    QuoteCharge,
    Severity,
)


def test_a_decimal_keeps_every_digit_it_was_written_with():
    charge = QuoteCharge(label="Freight", amount=Decimal("310.00"))
    assert charge.to_json() == {
        "version": 1,
        "label": "Freight",
        "amount": "310.00",
        "detail": "",
    }
    assert str(QuoteCharge.from_json(charge.to_json()).amount) == "310.00"


def test_a_severity_comes_back_as_a_severity():
    finding = PaperFinding.from_json({"severity": "stop", "message": "No."})
    assert finding.severity is Severity.STOP


def test_a_field_missing_from_an_old_snapshot_takes_its_default():
    assert Plant.from_json({"name": "Demo", "address_lines": []}).phone == ""


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        ({"name": "A", "address_lines": "12 Road"}, "Party.address_lines: expected a list"),
        ({"name": 7}, "Party.name: expected str, got 7"),
        ({"name": "A", "adress": []}, "unknown field 'adress'"),
        ({}, "name"),
        ([], "Party: expected an object"),
    ],
)
def test_a_damaged_snapshot_is_refused_with_the_field_named(data, sentence):
    with pytest.raises(SnapshotError, match=sentence):
        Party.from_json(data)


def test_a_number_that_is_not_finite_cannot_be_stored():
    charge = QuoteCharge(label="Freight", amount=Decimal("NaN"))
    with pytest.raises(SnapshotError, match="amount: NaN is not a finite number"):
        charge.to_json()


def test_a_float_where_money_belongs_is_refused():
    with pytest.raises(SnapshotError, match="amount: expected Decimal"):
        QuoteCharge.from_json({"label": "Freight", "amount": 310.0})


def test_a_weight_between_two_scale_steps_is_refused():
    with pytest.raises(ValueError, match=r"10\.3 lb is not a whole number of 0\.5 lb"):
        ChargeStep("W", "Water", weight_lb=10.3, running_total_lb=10.3, scale_step_lb=0.5)


def test_a_nitrogen_form_without_its_total_above_it_is_refused():
    with pytest.raises(ValueError, match=r"N\.urea is indented under N"):
        LabelDraftView(
            plant=Plant("Demo", ()),
            number="L-1",
            drafted_on=dt.date(2026, 3, 2),
            product_name="Demo 28-0-0",
            grade="28-0-0",
            guarantees=(GuaranteeLine("N.urea", "Urea Nitrogen", Decimal("12.3"), parent="N"),),
            derived_from=("Urea",),
            guarantor=Party("Demo"),
            net_mass_lb=1,
            net_mass_kg=0.45,
            net_volume_gal=0.1,
            net_volume_l=0.4,
            density_lb_per_gal=10.7,
        )
