"""Words that others know of a person or the plant make no password."""

import pytest
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError

from orders.models import PlantProfile
from tests.factories import CompanyFactory, UserFactory


@pytest.fixture
def person(db):
    PlantProfile.objects.create(name="Quillmarsh Liquids", address="1 Mill Road")
    company = CompanyFactory(name="Brookmeadow Lawn Care")
    return UserFactory(name="Robin Underhill", email="greenkeeper@acres.example", company=company)


@pytest.mark.parametrize(
    "password",
    ["Quillmarsh-2026", "blendshop12345x", "underhill#9876", "99greenkeeper99", "brookMEADOW-4711"],
)
def test_names_of_plant_company_and_person_are_refused(person, password):
    with pytest.raises(ValidationError) as refused:
        validate_password(password, person)
    assert "password_known_words" in [error.code for error in refused.value.error_list]


def test_a_password_that_is_long_enough_without_them_is_taken(person):
    validate_password("quillmarsh otters waltz at dawn", person)


def test_without_a_plant_or_a_person_only_the_program_is_known(db):
    validate_password("Quillmarsh-2026")
    with pytest.raises(ValidationError):
        validate_password("blendshop-2026x")
