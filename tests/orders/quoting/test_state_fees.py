"""A state whose fee nobody has looked up is said to staff, and to nobody else."""

from decimal import Decimal

import pytest
from django.urls import reverse

from orders.models import Package, StateFee
from orders.quoting.actions.quotes import draft_quote, send_quote
from orders.quoting.draft_prices import DraftLine
from orders.quoting.links import quote_token
from orders.quoting.state_fees import fee_caution, tonnage_fee
from tests.factories import ShipToFactory, make_price_setup, make_simple_catalogue
from tests.orders.planning.plant_cases import save_half_slow

SAID = "No tonnage fee on record for MD; the office should check."
WISH = {"N_min": "24", "slow_min": "50", "K2O_min": "2"}


@pytest.fixture
def ship_to(db, company):
    make_price_setup()
    make_simple_catalogue()
    return ShipToFactory(company=company)


@pytest.fixture
def half_slow_draft(ship_to, rep, company):
    line = DraftLine(
        revision=save_half_slow(rep, company), package=Package.objects.get(), quantity=2
    )
    return draft_quote(
        acting_user=rep, company=company, ship_to=ship_to, lines=[line], validity_days=30
    )


def keep_fee(**changes):
    return StateFee.objects.create(
        **{"state": "MD", "fee_per_ton": Decimal(2), "citation": "test", "mark": "demo"} | changes
    )


def test_a_fee_on_record_is_charged_and_needs_no_word(ship_to):
    assert (tonnage_fee(ship_to), fee_caution(ship_to)) == (None, SAID)
    keep_fee(state="VA")
    assert fee_caution(ship_to) == SAID
    keep_fee()
    assert tonnage_fee(ship_to).per_ton == 2
    assert fee_caution(ship_to) == ""


def test_a_fee_switched_off_is_a_decision_and_not_a_gap(ship_to):
    keep_fee(active=False)
    assert (tonnage_fee(ship_to), fee_caution(ship_to)) == (None, "")


def test_without_a_ship_to_there_is_no_state_to_look_up(db):
    assert (tonnage_fee(None), fee_caution(None)) == (None, "")


def test_the_quote_page_says_it_to_staff_until_the_office_has_looked(
    half_slow_draft, rep, signed_in
):
    address = reverse("quote_detail", args=[half_slow_draft.number])
    assert SAID in signed_in(rep).get(address).content.decode()
    keep_fee()
    assert SAID not in signed_in(rep).get(address).content.decode()


def test_the_customer_reads_nothing_of_it(half_slow_draft, rep, customer, signed_in, client):
    send_quote(quote=half_slow_draft, acting_user=rep)
    own = signed_in(customer).get(reverse("quote_detail", args=[half_slow_draft.number]))
    public = client.get(reverse("quote_public", args=[quote_token(half_slow_draft)]))
    assert "tonnage" not in own.content.decode().lower()
    assert "tonnage" not in public.content.decode().lower()


def test_the_sheet_of_a_new_quote_says_it_beside_the_price(
    half_slow_draft, rep, company, signed_in
):
    line = half_slow_draft.lines.get()
    data = {
        "do": "preview",
        "company": company.pk,
        "ship_to": half_slow_draft.ship_to_id,
        "validity_days": 30,
        "notes": "",
        "line-TOTAL_FORMS": 1,
        "line-INITIAL_FORMS": 1,
        "line-MIN_NUM_FORMS": 1,
        "line-MAX_NUM_FORMS": 20,
        "line-0-revision": line.revision_id,
        "line-0-package": line.package_id,
        "line-0-quantity": 1,
        "line-0-n_rate": "",
        "line-0-margin_pct": "",
    }
    page = signed_in(rep).post(reverse("quote_new"), data)
    assert SAID in page.content.decode()


def test_the_blend_page_says_it_to_the_rep_and_not_to_the_customer(
    ship_to, rep, customer, company, signed_in
):
    typed = WISH | {"company": str(company.pk), "ship_to": str(ship_to.pk)}
    asked = {
        user: signed_in(user).post(reverse("blend_answer"), typed).content.decode()
        for user in (rep, customer)
    }
    assert SAID in asked[rep]
    assert "Price" in asked[customer]
    assert "tonnage fee on record" not in asked[customer]
