"""A line of a quote is judged as its customer sprays it; what stops it needs the office's word."""

import importlib
import io
import re
from typing import Any

import pytest
from django.apps import apps
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader

from blendshop.accounts.models import User
from blendshop.errors import IllegalMove
from blendshop.outbox.models import Mail
from orders.models import Package, Quote, QuoteLine, SprayHabit
from orders.quoting.actions import quotes as actions
from orders.quoting.draft_prices import DraftLine
from orders.quoting.links import quote_url


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
    told = "Burn: High risk at 1 lb N in 1 gal per 1000 sq ft. Sprayed so it is likely to burn"
    html = signed_in(customer).get(reverse("quote_detail", args=[quote.number])).content.decode()
    assert told in html
    assert 'class="strip"' not in html
    assert told in Client().get(quote_url(quote)).content.decode()
    form = {"decision": "accept", "name": "Casey"}
    assert told in Client().post(quote_url(quote), form).content.decode()
    assert f"STOP. {told}" in Mail.objects.get(subject__endswith="for you to read").text
    pages = PdfReader(io.BytesIO(bytes(quote.papers.get().pdf))).pages
    assert told in " ".join(" ".join(page.extract_text() for page in pages).split())


def test_a_stop_that_comes_up_while_it_is_a_draft_is_never_sent_over(
    world: dict[str, Any], rep: User
) -> None:
    quote = _draft(world, 1.0)
    assert not quote.needs_approval
    _sprays(world, rate=1, gal=1)
    with pytest.raises(IllegalMove, match="before the office approves it"):
        actions.send_quote(quote=quote, acting_user=rep, seen_total=quote.total)
    quote.refresh_from_db()
    assert (quote.status, quote.needs_approval) == (Quote.Status.DRAFT, True)


def test_a_quote_stays_judged_as_its_customer_sprayed_when_it_was_quoted(
    world: dict[str, Any], rep: User, signed_in: Any
) -> None:
    _sprays(world, rate=1, gal=8)
    quote = _draft(world, 1.0)
    actions.send_quote(quote=quote, acting_user=rep)
    public = Client().get(quote_url(quote)).content.decode()
    own = signed_in(rep).get(reverse("quote_detail", args=[quote.number])).content.decode()
    SprayHabit.objects.update(carrier_gal_per_1000sqft=1, state="FL", place="Elsewhere")
    later = Client().get(quote_url(quote)).content.decode()
    strip = 'class="strip.*?</ul>|in 8 gal per 1000 sq ft'
    again = signed_in(rep).get(reverse("quote_detail", args=[quote.number])).content.decode()
    assert re.findall(strip, own, re.DOTALL) == re.findall(strip, again, re.DOTALL) != []
    assert "alert-danger" not in public + later
    assert "Elsewhere" not in again
    assert _draft(world, 1.0).needs_approval


def test_lines_of_before_are_judged_as_their_customer_sprays_now(world: dict[str, Any]) -> None:
    fill = importlib.import_module("orders.migrations.0024_spraying_of_quoted_lines").fill
    line = _draft(world, 1.0).lines.get()
    without_wish = line.spraying
    _sprays(world, rate=1, gal=8, state="FL")
    with_wish = _draft(world, 1.0).lines.get().spraying
    QuoteLine.objects.update(sprayed={})
    fill(apps, None)
    assert {each.spraying for each in QuoteLine.objects.all()} == {with_wish}
    assert with_wish != without_wish
    SprayHabit.objects.all().delete()
    QuoteLine.objects.update(sprayed={})
    fill(apps, None)
    assert {each.spraying for each in QuoteLine.objects.all()} == {without_wish}
