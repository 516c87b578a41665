"""A caller who is no customer yet is taken in on the quote sheet itself."""

from urllib.parse import urlencode

import pytest
from django.urls import reverse

from blendshop.accounts.models import Company, User
from blendshop.outbox.models import Mail
from formulas.models import Blend
from orders.blend_page.sprayed_query import sprayed_query
from orders.models import Quote, QuoteLine, ShipTo
from tests.orders.quoting.test_quote_pages import sheet

pytestmark = pytest.mark.django_db


def typed(world, **changes):
    """A sheet with nobody chosen and a caller typed in."""
    caller = {
        "name": "Tall Fescue Care",
        "person": "Pat Ames",
        "email": "pat@tallfescue.example",
        "street": "4 Mill Lane",
        "city": "Larkfield",
        "state": "oh",
        "county": "",
        "postal_code": "43001",
        "zone": world["ship_to"].zone_id,
    }
    fields = {f"caller-{name}": value for name, value in (caller | changes).items()}
    return sheet(world, company="", ship_to="", notes="Ring first.", **fields)


def test_a_caller_is_taken_in_and_the_quote_goes_on_for_them(signed_in, rep, world):
    Blend.objects.update(company=None)  # of the plant's book, for anybody
    client = signed_in(rep)
    page = client.post(reverse("quote_new"), {**typed(world), "do": "take-in"})
    place = ShipTo.objects.get(company__name="Tall Fescue Care")
    assert (place.label, place.state) == ("Larkfield", "OH")
    head = page.context["sheet"].form.initial
    assert (head["company"], head["ship_to"]) == (str(place.company_id), str(place.pk))
    assert head["notes"] == "Ring first."
    person = User.objects.get(email="pat@tallfescue.example")
    assert (person.name, person.company) == ("Pat Ames", place.company)
    assert Mail.objects.filter(to=person.email).count() == 1

    saved = sheet(world, company=head["company"], ship_to=head["ship_to"], do="save")
    client.post(reverse("quote_new"), saved)
    assert Quote.objects.get().company == place.company


def test_how_the_caller_sprays_goes_from_the_blend_page_to_the_lines_of_the_quote(
    signed_in, rep, world
):
    Blend.objects.update(company=None)
    client = signed_in(rep)
    said = sprayed_query({"n_rate": "0.35", "carrier": "0.5", "law_state": "FL"})
    opened = client.get(f"{reverse('quote_new')}?{urlencode(said)}")
    kept = {f"sprayed-{name}": text for name, text in opened.context["sprayed"].initial.items()}
    page = client.post(reverse("quote_new"), {**typed(world), **kept, "do": "take-in"})
    head = page.context["sheet"].form.initial
    saved = sheet(world, company=head["company"], ship_to=head["ship_to"], do="save")
    client.post(reverse("quote_new"), saved)
    sprayed = QuoteLine.objects.get().spraying
    assert (sprayed.carrier_gal_per_1000sqft, sprayed.state) == (0.5, "FL")


def test_enter_in_the_new_customer_takes_them_in_rather_than_losing_them(signed_in, rep, world):
    signed_in(rep).post(reverse("quote_new"), {**typed(world, email=""), "do": "save"})
    company = Company.objects.get(name="Tall Fescue Care")
    assert not User.objects.filter(company=company).exists()


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"city": ""}, "city"),
        ({"name": "Brookmeadow Lawn Care"}, "__all__"),
        ({"email": "not a mail"}, "email"),
        ({"email": "rep@blendshop.example"}, "email"),
    ],
)
def test_what_is_amiss_is_said_at_its_field_and_nobody_is_half_taken_in(
    signed_in, rep, world, changes, field
):
    User.objects.filter(pk=rep.pk).update(email="rep@blendshop.example")
    companies = Company.objects.count()
    page = signed_in(rep).post(reverse("quote_new"), {**typed(world, **changes), "do": "take-in"})
    assert page.status_code == 400
    assert field in page.context["caller"].errors
    assert b'id="new-customer" open' in page.content
    assert Company.objects.count() == companies


def test_what_was_typed_of_a_caller_stays_when_a_line_is_added(signed_in, rep, world):
    page = signed_in(rep).post(reverse("quote_new"), {**typed(world), "do": "add"})
    assert b'value="Tall Fescue Care"' in page.content
