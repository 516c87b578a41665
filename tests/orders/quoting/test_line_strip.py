"""A line of a quote is judged as its customer sprays it; what stops it needs the office's word."""

from typing import Any

import pytest
from django.urls import reverse

from blendshop.accounts.models import User
from blendshop.errors import IllegalMove
from orders.models import Package, Quote, SprayHabit
from orders.quoting.actions import quotes as actions
from orders.quoting.draft_prices import DraftLine


def _draft(world: dict[str, Any], n_rate: float | None) -> Quote:
    return actions.draft_quote(
        acting_user=world["rep"],
        company=world["company"],
        ship_to=world["ship_to"],
        lines=[
            DraftLine(
                revision=world["revision"],
                package=Package.objects.get(),
                quantity=2,
                n_rate_lb_per_1000sqft=n_rate,
            )
        ],
        validity_days=30,
    )


def _sprays(world: dict[str, Any], *, rate: float, gal: float, state: str = "") -> None:
    SprayHabit.objects.create(
        company=world["company"],
        n_rate_lb_per_1000sqft=rate,
        carrier_gal_per_1000sqft=gal,
        state=state,
    )


def test_a_line_that_would_burn_waits_for_the_office(
    world: dict[str, Any], rep: User, office: User
) -> None:
    _sprays(world, rate=1, gal=1)
    quote = _draft(world, 1.0)
    assert quote.needs_approval
    assert "Burn. High risk at 1 lb N in 1 gal per 1000 sq ft." in quote.approval_reason
    with pytest.raises(IllegalMove, match="High risk at 1 lb N"):
        actions.send_quote(quote=quote, acting_user=rep)
    actions.submit_quote(quote=quote, acting_user=rep)
    actions.approve_quote(quote=quote, acting_user=office, why="Watered in at once.")
    assert quote.status == Quote.Status.SENT


def test_more_water_lets_the_same_line_go(world: dict[str, Any]) -> None:
    _sprays(world, rate=1, gal=8)
    assert not _draft(world, 1.0).needs_approval


def test_what_nobody_said_stops_nothing_and_is_asked_on_the_page(
    world: dict[str, Any], rep: User, signed_in: Any
) -> None:
    quote = _draft(world, None)
    assert not quote.needs_approval
    html = signed_in(rep).get(reverse("quote_detail", args=[quote.number])).content.decode()
    assert "At what N rate?" in html
    assert "strip-unknown" in html


def test_the_customer_reads_a_stop_as_a_caution_and_no_strip(
    world: dict[str, Any], office: User, customer: User, signed_in: Any
) -> None:
    _sprays(world, rate=1, gal=1)
    quote = _draft(world, 1.0)
    actions.submit_quote(quote=quote, acting_user=world["rep"])
    actions.approve_quote(quote=quote, acting_user=office)
    html = signed_in(customer).get(reverse("quote_detail", args=[quote.number])).content.decode()
    assert "Burn: High risk at 1 lb N in 1 gal per 1000 sq ft." in html
    assert 'class="strip"' not in html
