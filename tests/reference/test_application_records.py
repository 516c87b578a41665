"""What states ask of a record of application."""

import pytest

from formulas.reference.application_records import RECORD_FIELDS, record_duties
from formulas.reference.reading import ReferenceDataError
from orders.models import ApplicationRecord

ROW = """[[state]]
state = "VA"
certificate = "x"
asked = [{asked}]
citation = "x"
mark = "verified"
"""


def test_every_state_has_its_source_and_asks_for_fields_a_record_has():
    duties = record_duties()
    assert all(duty.source.text and duty.certificate for duty in duties.values())
    assert all(hasattr(ApplicationRecord, name) for name in RECORD_FIELDS)
    assert all(bool(duty.asked) is bool(duty.record) for duty in duties.values())


def test_virginia_keeps_what_its_code_names_for_three_years():
    # 2 VAC 5-405-100: customer, phone, site, applicator, date, weather, area, analysis, amount,
    # equipment; kept for three years.
    duty = record_duties()["VA"]
    assert duty.keep_years == 3
    assert {"customer_name", "customer_phone", "weather", "area_sqft", "equipment"} <= duty.asked
    assert record_duties()["MN"].is_given_to_customer


def test_records_of_maryland_and_delaware_are_those_of_their_codes():
    # COMAR 15.20.10.13 B: applicator, date, area, address, analysis, rate, amount; three years.
    maryland = record_duties()["MD"]
    assert maryland.keep_years == 3
    assert maryland.asked == {
        "applied_by", "applied_on", "area_sqft", "place", "analysis", "amount_gal"
    }  # fmt: skip
    # 3 Del. Admin. Code 1201-12.3: dates, locations, quantities, acreage, methods; 12.5: 6 years.
    delaware = record_duties()["DE"]
    assert delaware.keep_years == 6
    assert delaware.asked == {"applied_on", "place", "amount_gal", "area_sqft", "equipment"}


@pytest.mark.parametrize("text", [ROW.format(asked='"moon"'), ROW.format(asked="") * 2])
def test_a_wrong_table_is_refused(tmp_path, text):
    (tmp_path / "application_records.toml").write_text(text)
    with pytest.raises(ReferenceDataError):
        record_duties(tmp_path)
