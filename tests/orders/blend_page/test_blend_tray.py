"""The tray: what was tried stands side by side, and two or three of it become one quote."""

from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from blendshop.accounts.models import Company, User
from formulas.models import Blend
from orders.blend_page.actions import KEPT_DAYS, MOST_TRIED
from orders.blend_page.tray import tray_of
from orders.models import Quote, TriedBlend
from orders.quoting.choices import choices_of
from tests.factories import ShipToFactory
from tests.orders.blend_page.blend_page_cases import HTMX, OUT_OF_REACH, WISH, SignIn

#: Less of it slow than in ``WISH``.
QUICKER = WISH | {"slow_min": "20"}


def keep(client: Client, typed: dict[str, str]) -> Any:
    wish = client.post(reverse("blend_answer"), typed, headers=HTMX)["HX-Replace-Url"]
    return client.post(reverse("blend_tray_keep"), {"wish": wish.split("?", 1)[1]})


def test_two_wishes_stand_side_by_side_with_their_difference(
    rep: User, formulator: User, signed_in: SignIn
) -> None:
    client = signed_in(rep)
    assert keep(client, QUICKER)["Location"] == reverse("blend_tray")
    keep(client, WISH)
    keep(client, WISH)  # the same wish is one row
    first, second = tray_of(rep, {})
    assert second.per_gal_more == second.figures.price_per_gal - first.figures.price_per_gal
    assert second.per_gal_more > 0  # slow-release stocks cost more
    prices = [row.figures.price_per_1000sqft for row in (first, second)]
    assert second.per_1000sqft_more == prices[1] - prices[0] > 0
    assert first.per_1000sqft_more is None
    assert second.figures.slow_release_pct == pytest.approx(50, abs=1)
    assert sum(share.pct for share in second.figures.recipe) == pytest.approx(100)
    page = client.get(reverse("blend_tray")).content.decode()
    for row in (first, second):
        assert f"{row.figures.total:,.2f}" in page
    assert (
        "Nothing is kept yet" in signed_in(formulator).get(reverse("blend_tray")).content.decode()
    )


def test_the_oldest_makes_room_and_old_rows_go(rep: User, signed_in: SignIn) -> None:
    client = signed_in(rep)
    for _ in range(2):
        keep(client, WISH)
    first = TriedBlend.objects.get()
    for place in range(MOST_TRIED):
        first.pk, first.link = None, f"{first.link}&n={place}"
        first.save(force_insert=True)
    oldest = TriedBlend.objects.order_by("pk")[0]
    keep(client, QUICKER)
    assert TriedBlend.objects.count() == MOST_TRIED
    assert not TriedBlend.objects.filter(pk=oldest.pk).exists()
    long_ago = timezone.now() - timedelta(days=KEPT_DAYS, hours=1)
    TriedBlend.objects.update(tried_at=long_ago)
    keep(client, QUICKER)
    assert TriedBlend.objects.count() == 1


def test_what_is_out_of_reach_is_not_kept(rep: User, signed_in: SignIn) -> None:
    assert keep(signed_in(rep), OUT_OF_REACH).status_code == 400
    assert not TriedBlend.objects.exists()


def test_nobody_takes_a_row_out_of_anothers_tray(
    rep: User, formulator: User, signed_in: SignIn
) -> None:
    keep(signed_in(rep), WISH)
    drop = reverse("blend_tray_drop", args=[TriedBlend.objects.get().pk])
    signed_in(formulator).post(drop)
    assert TriedBlend.objects.exists()
    signed_in(rep).post(drop)
    assert not TriedBlend.objects.exists()


def test_the_ticked_ones_become_one_quote_at_the_totals_that_were_compared(
    rep: User, company: Company, signed_in: SignIn
) -> None:
    client, place = signed_in(rep), ShipToFactory(company=company)
    whose = {"company": str(company.pk), "ship_to": str(place.pk)}
    keep(client, QUICKER | whose)
    keep(client, WISH | whose)
    rows = tray_of(rep, {})
    names = {f"name-{rows[0].tried.pk}": "Quick", f"name-{rows[1].tried.pk}": "Half slow"}
    ticked = [str(row.tried.pk) for row in rows]
    press = {"take": ticked, "once": "a1", **names}
    response = client.post(reverse("blend_tray_quote"), press)
    quote = Quote.objects.get()
    assert client.post(reverse("blend_tray_quote"), press)["Location"] == response["Location"]
    assert Quote.objects.count() == 1
    assert response["Location"] == reverse("quote_edit", args=[quote.number])
    assert (quote.company, quote.ship_to) == (company, place)
    choices = choices_of(quote)
    assert [choice.total for choice in choices] == [row.figures.total for row in rows]
    assert [choice.alternative.revision.blend.name for choice in choices] == ["Quick", "Half slow"]
    assert all(choice.total > Decimal(0) for choice in choices)


def test_one_alone_or_those_of_two_customers_are_not_quoted_and_nothing_is_saved(
    rep: User, company: Company, signed_in: SignIn
) -> None:
    client = signed_in(rep)
    keep(client, WISH)
    keep(client, QUICKER | {"company": str(company.pk)})
    ticked = [str(pk) for pk in TriedBlend.objects.values_list("pk", flat=True)]
    for take, sentence in (
        (ticked[:1], "Take two or three of them."),
        (ticked, "Work them out for one and the same customer first."),
    ):
        response = client.post(reverse("blend_tray_quote"), {"take": take})
        assert response.status_code == 400
        assert sentence in response.content.decode()
    assert not Blend.objects.exists()


def test_what_is_for_nobody_yet_is_saved_and_the_sheet_asks_for_whom(
    rep: User, signed_in: SignIn
) -> None:
    client = signed_in(rep)
    keep(client, WISH | {"quantity": "2"})
    keep(client, QUICKER)
    rows = tray_of(rep, {})
    tray = client.get(reverse("blend_tray"))
    assert tray.context["ticked"] == [str(row.tried.pk) for row in rows]
    for row in rows:  # what decided stands beside the price
        assert row.strip is not None
        assert f">{row.strip.results[0].word}<" in tray.text
    sheet = client.post(
        reverse("blend_tray_quote"), {"take": tray.context["ticked"]}, follow=True
    ).context["sheet"]
    saved = list(Blend.objects.order_by("pk"))
    assert [blend.name for blend in saved] == [row.name for row in rows]
    assert {blend.company for blend in saved} == {None}
    asked = [
        (line.initial["revision"], line.initial["quantity"], line.initial["alternative"])
        for line in sheet.lines
    ]
    revisions = [blend.revisions.get().pk for blend in saved]
    assert asked == [(revisions[0], 2, True), (revisions[1], 1, True)]
    assert not Quote.objects.exists()
