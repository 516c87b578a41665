"""The pages of base stocks and saved blends: who sees what, and the same number of queries."""

import re
from collections.abc import Callable
from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from blendshop.accounts.models import Company, User
from formulas.blends.actions import save_blend
from formulas.models import BaseStock, Blend, CompatibilityRule, StockCost
from tests.factories import BaseStockFactory, CompatibilityRuleFactory

WISH: dict[str, Any] = {
    "targets": [{"nutrient": "N", "min": 20}],
    "slow_release_pct": {"min": 40},
    "fill": {"volume_gal": 265},
}
PEOPLE = ("rep", "plant_worker", "formulator", "office", "customer", "stranger")


@pytest.fixture(autouse=True)
def rule(catalogue: dict[str, BaseStock]) -> None:
    """The catalogue, and a rule that blocks calcium beside phosphate."""
    CompatibilityRuleFactory()


@pytest.fixture
def blend(rep: User, company: Company) -> Blend:
    return save_for(rep, company, "Summer 20-0-0")


def save_for(user: User, company: Company | None, name: str) -> Blend:
    today = timezone.localdate()
    revision = save_blend(acting_user=user, name=name, company=company, wish=WISH, today=today)
    return revision.blend


def text_of(client: Client, path: str, status: int = 200) -> str:
    response = client.get(path)
    assert response.status_code == status, path
    return response.content.decode()


STOCK_PAGES = ("/stocks/", "/stocks/UAN/", "/stocks/rules/")


@pytest.mark.parametrize("path", STOCK_PAGES)
@pytest.mark.parametrize("person", PEOPLE)
def test_staff_see_the_base_stocks_and_customers_do_not(
    request: pytest.FixtureRequest, signed_in: Callable[[User], Client], person: str, path: str
) -> None:
    status = 403 if person in ("customer", "stranger") else 200
    text_of(signed_in(request.getfixturevalue(person)), path, status)


@pytest.mark.parametrize("path", [*STOCK_PAGES, "/stocks/upload/", "/blends/"])
def test_a_visitor_is_sent_to_sign_in(path: str) -> None:
    response = Client().get(path)
    assert response.status_code == 302
    assert "/people/login/" in response["Location"]


def test_a_stocks_page_shows_every_figure_with_source_and_mark(
    rep: User, signed_in: Callable[[User], Client], catalogue: dict[str, BaseStock]
) -> None:
    BaseStock.objects.filter(code="UAN").update(
        hazards="Irritant.", ppe="Goggles.", ph_low=7.0, ph_high=7.2, ph_source="the pH sheet",
        ph_mark="verified", salt_index=71.1, salt_index_source="the salt table",
        salt_index_mark="computed", notes="Keep warm.",
    )  # fmt: skip
    page = text_of(signed_in(rep), "/stocks/UAN/")
    for words in (
        "16.4", "Urea nitrogen", "test data, invented", "demo data", "11.06", "7 to 7.2",
        "the pH sheet", "verified in its source", "71.1", "the salt table", "Irritant.",
        "Goggles.", "Keep warm.", "certificate of the lot received overrides", "SDS governs",
    ):  # fmt: skip
        assert words in page, words


def test_an_unpublished_figure_is_unknown_not_zero(
    rep: User, signed_in: Callable[[User], Client]
) -> None:
    page = text_of(signed_in(rep), "/stocks/KAC/")
    assert page.count("no published figure found") == 2  # pH and salt index


@pytest.mark.parametrize("person", ["rep", "formulator", "office", "plant_worker"])
def test_costs_are_shown_to_those_who_see_costs_only(
    request: pytest.FixtureRequest, signed_in: Callable[[User], Client], person: str
) -> None:
    client = signed_in(request.getfixturevalue(person))
    for path in ("/stocks/", "/stocks/UAN/"):
        assert ("$0.18" in text_of(client, path)) is (person != "plant_worker")
    assert ("$" in text_of(client, "/stocks/UAN/")) is (person != "plant_worker")


def test_the_list_finds_by_code_or_name_and_hides_retired_stocks(
    rep: User, signed_in: Callable[[User], Client]
) -> None:
    BaseStock.objects.filter(code="FES").update(retired_on=date(2026, 1, 1))
    client = signed_in(rep)
    assert "FES" not in text_of(client, "/stocks/")
    assert "FES" in text_of(client, "/stocks/?retired=on")
    found = text_of(client, "/stocks/?q=acetate")
    assert "KAC" in found
    assert "UAN" not in found
    assert "No base stock matches" in text_of(client, "/stocks/?q=nothing-like-it")


def test_rules_are_listed_with_reason_and_source_and_the_jar_test(
    rep: User, signed_in: Callable[[User], Client]
) -> None:
    CompatibilityRule.objects.update(source="the compatibility sheet")
    page = text_of(signed_in(rep), "/stocks/rules/")
    for words in ("calcium phosphate drops out", "the compatibility sheet", "must not meet"):
        assert words in page
    assert re.search(r"<h2 id=\"jar-test\">[^<]+</h2>", page)


def test_a_cost_is_recorded_on_the_page_and_a_wrong_one_refused(
    office: User, signed_in: Callable[[User], Client]
) -> None:
    client = signed_in(office)
    good = {"amount": "360.00", "unit": "ton", "effective_from": "2026-05-01", "note": "spring"}
    response = client.post("/stocks/UAN/cost/", good, follow=True)
    assert "New cost of urea ammonium nitrate solution recorded." in response.content.decode()
    assert StockCost.objects.filter(stock__code="UAN", amount=Decimal(360)).exists()
    slip = {**good, "amount": "36.00"}
    asked = client.post("/stocks/UAN/cost/", slip)
    assert asked.status_code == 409
    assert StockCost.objects.filter(stock__code="UAN").count() == 2
    for words in ("-90.0 %", 'value="36.00"', 'name="sure" value="UAN 0.018"'):
        assert words in asked.content.decode()
    assert client.post("/stocks/UAN/cost/", {**slip, "sure": "UAN 0.018"}).status_code == 302
    for change in ({"amount": "-1"}, {"amount": "NaN"}, {"unit": "tonne"}, {"effective_from": ""}):
        response = client.post("/stocks/UAN/cost/", {**good, **change})
        assert response.status_code == 400, change
        assert "invalid-feedback" in response.content.decode() or change == {"amount": "-1"}
    assert StockCost.objects.filter(stock__code="UAN").count() == 3


@pytest.mark.parametrize("person", PEOPLE)
def test_who_may_change_a_stock_on_its_page(
    request: pytest.FixtureRequest, signed_in: Callable[[User], Client], person: str
) -> None:
    client = signed_in(request.getfixturevalue(person))
    cost = {"amount": "0.2", "unit": "lb", "effective_from": "2026-05-01"}
    for path, data, allowed in (
        ("/stocks/UAN/cost/", cost, {"formulator", "office"}),
        ("/stocks/UAN/short/", {"short": "yes"}, {"formulator", "plant_worker"}),
        ("/stocks/UAN/retire/", {"retired": "yes"}, {"formulator"}),
    ):
        assert client.get(path).status_code == 405
        expected = 302 if person in allowed else 403
        assert client.post(path, data).status_code == expected, path


def test_short_and_retired_can_be_taken_back(
    formulator: User, signed_in: Callable[[User], Client]
) -> None:
    client = signed_in(formulator)
    for word in ("yes", "no"):
        client.post("/stocks/UAN/short/", {"short": word})
        client.post("/stocks/UAN/retire/", {"retired": word})
        uan = BaseStock.objects.get(code="UAN")
        assert uan.short is (word == "yes")
        assert uan.is_active is (word == "no")
    again = client.post("/stocks/UAN/retire/", {"retired": "no"})
    assert again.status_code == 409
    assert client.post("/stocks/NIX/short/", {"short": "yes"}).status_code == 404


@pytest.mark.parametrize(
    ("person", "status"),
    [("rep", 200), ("plant_worker", 200), ("formulator", 200), ("office", 200),
     ("customer", 200), ("stranger", 404)],
)  # fmt: skip
def test_a_blend_is_there_for_staff_and_its_own_company(
    request: pytest.FixtureRequest,
    signed_in: Callable[[User], Client],
    blend: Blend,
    person: str,
    status: int,
) -> None:
    client = signed_in(request.getfixturevalue(person))
    text_of(client, f"/blends/{blend.pk}/", status)
    listed = text_of(client, "/blends/")
    assert (blend.name in listed) is (status == 200)
    renamed = client.post(f"/blends/{blend.pk}/rename/", {"name": "Renamed"})
    archived = client.post(f"/blends/{blend.pk}/archive/", {"archived": "yes"})
    expected = {"stranger": 404, "plant_worker": 403}.get(person, 302)
    assert (renamed.status_code, archived.status_code) == (expected, expected)


def test_a_customer_sees_its_recipe_but_no_cost_anywhere(
    customer: User, plant_worker: User, rep: User, signed_in: Callable[[User], Client], blend: Blend
) -> None:
    revision = blend.latest
    totals = revision.solved.totals
    costs = [str(line.cost) for line in revision.solved.recipe if line.cost]
    costs += [str(cost) for cost in (totals.cost, totals.cost_per_lb, totals.cost_per_gal)]
    for person in (customer, plant_worker):
        page = text_of(signed_in(person), f"/blends/{blend.pk}/")
        assert "urea-triazone solution" in page
        assert "Slow-release N" in page
        assert "$" not in page
        assert not [cost for cost in costs if cost in page]
    page = text_of(signed_in(rep), f"/blends/{blend.pk}/").replace(",", "")
    assert not [cost for cost in costs if cost not in page]


def test_without_costs_the_page_is_not_even_given_them(blend: Blend) -> None:
    shown = blend.latest.solved.without_costs()
    totals = (shown.totals.cost, shown.totals.cost_per_lb, shown.totals.cost_per_gal)
    assert {*totals, *(line.cost for line in shown.recipe)} == {None}
    seen = blend.latest.solved
    assert sum(line.cost for line in seen.recipe if line.cost is not None) == seen.totals.cost


def test_a_blends_page_leads_to_the_blend_page_quote_and_reorder(
    request: pytest.FixtureRequest, signed_in: Callable[[User], Client], blend: Blend
) -> None:
    pk = blend.latest.pk
    links = (f"?revision={pk}", "/quotes/new/", f"/blends/{blend.pk}/reorder/")
    for person, seen in (
        ("rep", (1, 1, 1)), ("office", (1, 1, 1)), ("customer", (1, 0, 1)),
        ("formulator", (1, 0, 0)), ("plant_worker", (0, 0, 0)),
    ):  # fmt: skip
        client = signed_in(request.getfixturevalue(person))
        page = text_of(client, f"/blends/{blend.pk}/")
        assert tuple(int(f'href="/blend/{link}' in page or f'href="{link}' in page)
                     for link in links) == seen, person  # fmt: skip


def test_a_short_stock_is_named_on_the_blends_page(
    rep: User, signed_in: Callable[[User], Client], blend: Blend
) -> None:
    BaseStock.objects.filter(code="TRZ").update(short=True)
    page = text_of(signed_in(rep), f"/blends/{blend.pk}/")
    assert "urea-triazone solution is short at the moment." in page


def test_older_revisions_stay_readable(
    rep: User, signed_in: Callable[[User], Client], blend: Blend
) -> None:
    today = timezone.localdate()
    richer = {**WISH, "targets": [{"nutrient": "N", "min": 22}]}
    save_blend(acting_user=rep, name="", company=None, wish=richer, today=today, blend=blend)
    client = signed_in(rep)
    assert "22-0-0 · revision 2" in text_of(client, f"/blends/{blend.pk}/")
    older = text_of(client, f"/blends/{blend.pk}/?revision=1")
    assert "20-0-0 · revision 1" in older
    assert "This is an older revision." in older
    for wrong in ("3", "x", "", "1e9"):
        text_of(client, f"/blends/{blend.pk}/?revision={wrong}", 404)


def test_blends_are_found_by_name_grade_and_customer_and_archived_apart(
    rep: User, signed_in: Callable[[User], Client], blend: Blend, company: Company
) -> None:
    other = save_for(rep, None, "Winter feed")
    client = signed_in(rep)
    for query, found in (
        ("", {blend, other}),
        ("?q=summer", {blend}),
        ("?q=20-0-0", {blend, other}),
        ("?q=brookmeadow", {blend}),
        (f"?company={company.pk}", {blend}),
        ("?company=99999", {blend, other}),
        ("?q=nothing", set()),
        ("?archived=on", set()),
        ("?page=99", {blend, other}),
    ):
        page = text_of(client, f"/blends/{query}")
        assert {b for b in (blend, other) if f"/blends/{b.pk}/" in page} == found, query
    client.post(f"/blends/{other.pk}/archive/", {"archived": "yes"})
    assert f"/blends/{other.pk}/" not in text_of(client, "/blends/")
    assert f"/blends/{other.pk}/" in text_of(client, "/blends/?archived=on")


def test_a_blend_is_renamed_unless_the_name_is_taken_or_empty(
    rep: User, signed_in: Callable[[User], Client], blend: Blend, company: Company
) -> None:
    save_for(rep, company, "Taken")
    client = signed_in(rep)
    for name, words in (
        ("Fall", "The blend has a new name."),
        ("Taken", "There is already a blend of this name."),
        (" ", "This field is required."),
    ):
        page = client.post(f"/blends/{blend.pk}/rename/", {"name": name}, follow=True)
        assert words in page.content.decode()
    blend.refresh_from_db()
    assert blend.name == "Fall"


def queries_of(client: Client, path: str) -> int:
    client.get(path)  # what is kept of the catalogue is read anew after a change
    with CaptureQueriesContext(connection) as seen:
        assert client.get(path).status_code == 200
    return len(seen)


def test_thirty_rows_take_as_many_queries_as_three(
    rep: User, signed_in: Callable[[User], Client], blend: Blend
) -> None:
    client = signed_in(rep)
    paths = ("/stocks/", "/stocks/rules/", "/blends/", f"/blends/{blend.pk}/", "/stocks/UAN/")
    queries_of(client, f"/blends/{blend.pk}/")  # the catalogue is read once after a change
    before = {path: queries_of(client, path) for path in paths}
    for number in range(27):
        stock = BaseStockFactory(analysis={"K2O": 10.0}, traits=[f"trait{number}"])
        CompatibilityRuleFactory(trait_a=stock.traits.get())
        StockCost.objects.create(
            stock=BaseStock.objects.get(code="UAN"), amount=1, unit="lb", entered_by=rep,
            effective_from=date(2020, 2, 1),
        )  # fmt: skip
        copy = Blend.objects.create(name=f"Blend {number}", company=blend.company, created_by=rep)
        latest = blend.latest
        latest.pk, latest.blend, latest._state.adding = None, copy, True
        latest.save()
    queries_of(client, f"/blends/{blend.pk}/")
    assert {path: queries_of(client, path) for path in paths} == before


@pytest.mark.parametrize(
    "path", [*STOCK_PAGES, "/stocks/upload/", "/blends/", "/stocks/?q=none", "/blends/?q=none"]
)
def test_every_page_has_one_heading_labels_and_nothing_inline(
    formulator: User, signed_in: Callable[[User], Client], blend: Blend, path: str
) -> None:
    for address in (path, f"/blends/{blend.pk}/"):
        page = text_of(signed_in(formulator), address)
        assert len(re.findall(r"<h1[ >]", page)) == 1
        assert not re.search(r"<style|\sstyle=|<script(?![^>]*\ssrc=)|\son\w+=", page)
        ids = set(re.findall(r"<label[^>]*for=\"([^\"]+)\"", page))
        inputs = re.findall(r"<(?:input|select|textarea)[^>]*>", page)
        named = [i for i in inputs if 'type="hidden"' not in i]
        assert {re.search(r'id="([^"]+)"', i).group(1) for i in named} <= ids  # type: ignore[union-attr]
