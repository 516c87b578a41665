"""Margin, release outlook and label preview on the blend page, and saving with them."""

import re
import xml.etree.ElementTree as ET
from collections.abc import Callable
from decimal import Decimal
from html import unescape
from typing import Any
from urllib.parse import urlencode

import pytest
from django.http import QueryDict
from django.test import Client
from django.urls import reverse
from pytest_django import DjangoAssertNumQueries

from blendshop.accounts.models import Company, User
from formulas.answers.wish import Target
from formulas.contracts.formulation import formulate
from formulas.models import BaseStock, BlendRevision
from orders.blend_page.margin import chance_words
from orders.blend_page.page_options import load_page_options
from orders.blend_page.page_state import PageState, state_of
from orders.blend_page.prices import Pricer
from orders.blend_page.spreads import margin_of
from orders.blend_page.typed_again import fields_of
from orders.blend_page.wish_form import WishForm
from orders.models import PlantSpread, StockSpread
from orders.quoting.requests import WishedBlend
from tests.factories import (
    ShipToFactory,
    TraitFactory,
    today,
)

SignIn = Callable[[User], Client]
WISH = {"N_min": "24", "slow_min": "50", "K2O_min": "2"}
MARGIN = WISH | {"margin": "on", "margin_chance": "1"}
OUT_OF_REACH = {"N_min": "30", "slow_min": "50", "K2O_min": "2"}
HTMX = {"HX-Request": "true"}


def _form(user: User, typed: dict[str, str]) -> WishForm:
    data = QueryDict(mutable=True)
    data.update(typed)
    return WishForm(data, options=load_page_options(user, today()))


def _state(user: User, typed: dict[str, str]) -> PageState:
    return state_of(_form(user, typed))


def _html(client: Client, typed: dict[str, Any]) -> str:
    response = client.post(reverse("blend_answer"), typed, headers=HTMX)
    assert response.status_code == 200
    return re.sub(r"\s+", " ", unescape(response.content.decode()))


def _saved(client: Client, typed: dict[str, str], **more: str) -> Any:
    link = client.post(reverse("blend_answer"), typed, headers=HTMX)["HX-Replace-Url"]
    return client.post(reverse("blend_save"), {"wish": link.split("?", 1)[1], **more})


# ------------------------------------------------------------------------------- margin


def test_with_margin_the_blend_aims_higher_and_says_what_that_costs(rep: User) -> None:
    plain, held = _state(rep, WISH), _state(rep, MARGIN)
    assert plain.margin is None
    assert held.margin is not None
    assert plain.blend is not None
    assert held.blend is not None
    row = held.margin.rows[0]
    assert (row.key, row.guarantee_pct) == ("N", 24.0)
    assert held.margin.any_missed == "1 %"
    assert float(row.chance_below.removesuffix(" %")) < 1
    assert row.expected_pct > 24.3
    assert held.blend.analysis["N"] == pytest.approx(row.expected_pct)
    assert held.blend.totals.cost_per_gal is not None
    assert plain.blend.totals.cost_per_gal is not None
    added = held.blend.totals.cost_per_gal - plain.blend.totals.cost_per_gal
    assert held.margin.cost_per_gal is not None
    # Per lb the two differ by the margin's cost; the denser blend has more pounds in a gallon.
    assert abs(held.margin.cost_per_gal - added) < Decimal("0.03")
    assert held.margin.cost_per_package is not None
    assert held.margin.cost_per_package == held.margin.cost
    prices = held.wish_prices()
    assert prices is not None
    assert "with its margin" in prices.rows[0].words


def test_the_label_of_a_blend_with_margin_guarantees_what_was_asked(rep: User) -> None:
    label = _state(rep, MARGIN).label()
    assert label is not None
    assert label.draft is not None
    guaranteed = {line.key: line.pct for line in label.draft.guarantees}
    assert guaranteed["N"] == 24.0
    assert guaranteed["K2O"] == 2.0
    assert label.draft.grade == "24-0-2"


def test_the_spreads_are_the_plants_own_and_say_so_where_nobody_set_any(rep: User) -> None:
    first = _state(rep, MARGIN).margin
    assert first is not None
    assert first.sources == ("common practice, no source",)
    PlantSpread.objects.create(usual_rsd_pct=0.5, source="own laboratory, 2026")
    StockSpread.objects.create(
        stock=BaseStock.objects.get(code="TRZ"), strength_rsd_pct=2.0, total_n_rsd_pct=0.3,
        source="supplier certificate",
    )  # fmt: skip
    assert margin_of(0.01).contract_json() == {
        "chance": 0.01,
        "usual_assay": {"strength_rsd_pct": 0.5},
        "scale": {"absolute_lb": 1.0, "relative_pct": 0.1},
        "assay": {"TRZ": {"strength_rsd_pct": 2.0, "content_rsd_pct": {"N": 0.3}}},
    }
    again = _state(rep, MARGIN).margin
    assert again is not None
    assert again.sources == ("own laboratory, 2026", "supplier certificate")
    assert again.rows[0].sigma_pct > first.rows[0].sigma_pct


def test_a_saved_blend_keeps_guarantees_margin_and_the_recipe_that_was_shown(
    rep: User, signed_in: SignIn
) -> None:
    shown = _state(rep, MARGIN)
    _saved(signed_in(rep), MARGIN, name="Held 24")
    revision = BlendRevision.objects.get()
    assert revision.wished.targets[0] == Target("N", min=24.0)
    assert revision.wished.margin is not None
    assert revision.wished.margin.chance == 0.01
    assert "chance of missing any guarantee 1 %" in revision.note
    assert shown.formulation is not None
    assert revision.solved.recipe == shown.formulation.answer.recipe
    PlantSpread.objects.create(usual_rsd_pct=3.0)  # later settings change nothing in it
    body = revision.wished.contract_json()
    again = formulate(body, catalogue=load_page_options(rep, today()).catalogue)
    assert again.answer.recipe == revision.solved.recipe
    options = load_page_options(rep, today())
    typed = fields_of(revision.wished, options.packages, options.default_package)
    assert typed["margin"] == ["on"]
    assert typed["margin_chance"] == ["1"]
    assert WishForm(QueryDict(urlencode(typed, doseq=True)), options=options).is_valid()


def test_a_customer_never_sees_spreads_but_keeps_a_margin_it_opens(
    customer: User, signed_in: SignIn
) -> None:
    client = signed_in(customer)
    whole = unescape(client.get(reverse("blend_page"), MARGIN).content.decode())
    assert '<input type="hidden" name="margin" value="on">' in whole
    assert "margin-panel" not in whole
    assert "spread" not in _html(client, MARGIN).lower()


def test_a_margin_beyond_reach_says_that_the_wish_alone_can_be_had(
    rep: User, signed_in: SignIn
) -> None:
    html = _html(signed_in(rep), MARGIN | {"N_max": "24.1"})
    assert "Out of reach" in html
    assert "Without the margin this wish can be had." in html
    html = _html(signed_in(rep), OUT_OF_REACH | {"margin": "on"})
    assert "Even without a margin this wish is out of reach." in html


def test_alternatives_of_a_margin_do_not_overtype_the_guarantees(rep: User) -> None:
    found = _state(rep, {"N_min": "31.9", "margin": "on"})
    assert found.status == "out_of_reach"
    assert found.infeasibility is not None
    assert any("with its margin" in words for words in found.infeasibility.conflict)
    assert all(item.alternative.take is None for item in found.alternatives)


@pytest.mark.parametrize(("typed", "status"), [("60", "invalid"), ("x", "invalid")])
def test_a_wrong_chance_matters_only_with_the_margin(rep: User, typed: str, status: str) -> None:
    assert _state(rep, MARGIN | {"margin_chance": typed}).status == status
    assert _state(rep, WISH | {"margin_chance": typed}).status == "solved"


def test_tiny_chances_are_not_said_finer_than_they_are_known() -> None:
    assert chance_words(0.0123) == "1.2 %"
    assert chance_words(0.5) == "50 %"
    assert chance_words(0.0) == "below 0.01 %"


# ------------------------------------------------------------------------------ release


def test_the_outlook_is_a_band_with_its_table_and_marks(rep: User, signed_in: SignIn) -> None:
    BaseStock.objects.get(code="TRZ").traits.add(TraitFactory(code="triazone"))
    html = _html(signed_in(rep), WISH | {"part": "release", "n_rate": "0.8"})
    assert html.count("<svg xmlns") == 1
    assert "Nitrogen released over 16 weeks" in html
    assert "common practice, no source" in html
    assert "Nothing of this goes on the label" in html
    rows = re.findall(
        r'<tr><th scope="row">(\d+)</th>((?:<td class="number">[\d.]+</td>){3})', html
    )
    assert [int(week) for week, _ in rows] == list(range(17))
    for _, cells in rows:
        low, usual, high = (float(x) for x in re.findall(r">([\d.]+)<", cells))
        assert low <= usual <= high <= 0.8


def test_nitrogen_without_a_published_rate_is_left_out_and_said(
    rep: User, signed_in: SignIn
) -> None:
    html = _html(signed_in(rep), WISH | {"part": "release", "n_rate": "0.8"})
    assert "0.40 lb without a published rate are left out." in html


def test_a_warmer_soil_feeds_sooner_and_typed_temperatures_are_used(rep: User) -> None:
    cold, warm = (
        _state(
            rep, WISH | {"season": "typed", **{f"soil_{month}": temp for month in range(1, 5)}}
        ).release()
        for temp in ("45", "77")
    )
    assert cold is not None
    assert warm is not None
    assert cold.points[4].usual_lb < warm.points[4].usual_lb
    assert warm.season_name == "Soil temperatures typed in"


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ({"season": "typed", "soil_1": "60"}, "each of the four months"),
        ({"season": "typed", **{f"soil_{m}": "600" for m in range(1, 5)}}, "Must be a soil"),
        ({"n_rate": "x"}, "correct it to see the band"),
        ({"N_min": "", "slow_min": ""}, "no nitrogen"),
    ],
)
def test_an_outlook_that_cannot_be_drawn_says_why(
    rep: User, typed: dict[str, str], words: str
) -> None:
    found = _state(rep, WISH | typed)
    assert found.status == "solved"
    release = found.release()
    assert release is not None
    assert words in release.problem


# -------------------------------------------------------------------------------- label


def test_the_picture_of_the_label_shows_the_lines_of_the_list(rep: User) -> None:
    label = _state(rep, WISH).label()
    assert label is not None
    assert label.draft is not None
    svg = ET.fromstring(str(label.picture))  # noqa: S314 - our own drawing
    written = ["".join(node.itertext()).strip() for node in svg.iter() if node.tag.endswith("text")]
    assert written[0] == "DRAFT for review, not a label"
    for line in label.draft.guarantees:
        assert line.label in written
        assert f"{line.printed}%" in written
    assert "style=" not in str(label.picture)


def test_the_preview_reads_like_a_label_and_cannot_be_taken_for_one(
    rep: User, signed_in: SignIn
) -> None:
    html = _html(signed_in(rep), WISH | {"part": "label"})
    assert "Draft for review, not a label" in html
    order = [
        "Total Nitrogen (N)", "Ammoniacal Nitrogen", "Nitrate Nitrogen", "Urea Nitrogen",
        "Slowly Available Water Soluble Nitrogen", "Soluble Potash (K2O)",
    ]  # fmt: skip
    places = [html.index(name) for name in order]
    assert places == sorted(places)
    assert "slowly available nitrogen from" in html
    assert "Derived from:" in html
    for word in ("guarantor", "lot "):
        assert word not in html.lower()


def test_what_may_not_be_claimed_stands_with_its_rule(rep: User, signed_in: SignIn) -> None:
    html = _html(
        signed_in(rep), {"N_min": "20", "Fe_min": "0.02", "smallest_charge": "0", "part": "label"}
    )
    assert "Not claimed" in html
    # What is sure of it: the scale shows whole pounds, and the least of those keeps the wish.
    assert "0.021 %" in html
    # AAPFCO model rule: iron is guaranteed from 0.10 %, as state lists of minimums print it.
    assert re.search(r"Fe 0\.021 %: [^<]*0\.1", html)


def test_the_grade_follows_the_rule_of_the_state_where_one_was_read(
    rep: User, signed_in: SignIn
) -> None:
    # Forms that add up in hundredths: the cheapest blend of 20.5 carries 20.49, so 20.4.
    typed = {"N_min": "20.8", "part": "label"}
    assert ">20.8-0-0<" in _html(signed_in(rep), typed | {"law_state": "MD"})
    html = _html(signed_in(rep), typed | {"law_state": "TX"})
    assert ">20-0-0<" in html
    assert "Tex. Agric. Code 63.001(9)" in html


# ------------------------------------------------------------------------ saving, pricing


def test_only_who_writes_quotes_is_sent_on_to_one(formulator: User, signed_in: SignIn) -> None:
    client = signed_in(formulator)
    assert "Save and quote" not in client.get(reverse("blend_page"), WISH).content.decode()
    response = _saved(client, WISH, name="Trial")
    assert response["Location"] == reverse(
        "blend_detail", args=[BlendRevision.objects.get().blend_id]
    )
    assert client.get(response["Location"]).status_code == 200


def test_the_quote_begins_with_what_the_page_knows(
    rep: User, company: Company, signed_in: SignIn
) -> None:
    place = ShipToFactory(company=company)
    client = signed_in(rep)
    typed = WISH | {
        "company": str(company.pk), "ship_to": str(place.pk), "quantity": "3", "n_rate": "0.5"
    }  # fmt: skip
    response = _saved(client, typed, name="Three totes")
    html = client.get(response["Location"]).content.decode()
    assert re.search(r'name="[^"]*quantity"[^>]*value="3"', html)
    assert re.search(r'name="[^"]*n_rate"[^>]*value="0.5"', html)
    assert re.search(rf'<option value="{place.pk}" selected', html)


def test_many_blends_are_priced_with_one_reading_of_the_tables(
    rep: User, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    form = _form(rep, WISH)
    assert form.is_valid()
    found = _state(rep, OUT_OF_REACH)
    assert found.formulation is not None
    asked = found.formulation.answer.out_of_reach.alternatives
    blends = [
        WishedBlend(each.request, blend)
        for each, blend in zip(asked, found.formulation.blends, strict=True)
    ]
    pricer = Pricer(form)
    with django_assert_num_queries(4):  # policy, default tier, breaks, tank
        prices = pricer.price_each(blends * 4)
    assert len(prices) == 4 * len(blends)
    assert prices[0].breakdown == pricer.price(blends[0]).breakdown
