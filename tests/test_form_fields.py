"""Choices that a form gets when it is shown."""

import pytest
from django import forms

from blendshop.accounts.models import Company
from blendshop.form_fields import offer_choices, offer_rows


class Choosing(forms.Form):
    company = forms.ModelChoiceField(Company.objects.none())
    state = forms.ChoiceField()
    note = forms.CharField()


def test_a_field_takes_what_it_is_offered():
    form = Choosing({"company": "", "state": "MD", "note": "a"})
    offer_choices(form, "state", [("MD", "Maryland")])
    form.full_clean()
    assert form.cleaned_data["state"] == "MD"


def test_a_row_is_offered(company):
    form = Choosing({"company": str(company.pk)})
    offer_rows(form, "company", Company.objects.all())
    form.full_clean()
    assert form.cleaned_data["company"] == company


def test_a_field_that_does_not_choose_is_refused_by_name():
    with pytest.raises(TypeError, match="note does not choose a row"):
        offer_rows(Choosing(), "note", Company.objects.all())
    with pytest.raises(TypeError, match="note is not a choice"):
        offer_choices(Choosing(), "note", [])
