"""What a state asks a record of application for, named as the record's form names it."""

from django import template

from formulas.reference.application_records import RECORD_FIELDS, RecordDuty
from orders.crew_sheet.records import field_name

register = template.Library()


@register.filter
def asked_fields(duty: RecordDuty) -> str:
    """Names of the fields, in the order of the form's paper, joined by commas."""
    return ", ".join(field_name(key) for key in RECORD_FIELDS if key in duty.asked)
