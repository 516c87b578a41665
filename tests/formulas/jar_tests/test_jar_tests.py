"""Jar tests are registered once, never edited, and tell whether a recipe was tried."""

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client, override_settings
from django.urls import reverse

from blendshop.accounts.models import Company, User
from blendshop.errors import BadInput, IllegalMove, NotAllowed
from blendshop.immutable import WrittenOnce
from formulas.jar_tests.actions import Jar, register_jar_test, withdraw_jar_test
from formulas.jar_tests.forms import JarTestForm
from formulas.jar_tests.storage import recipe_from_query, register_query, storage_check
from formulas.models import BaseStock, JarTest
from tests.factories import today
from tests.orders.planning.plant_cases import make_shop, save_half_slow

PNG = b"\x89PNG\r\n\x1a\n" + bytes(40)


def jar(stocks: dict[str, BaseStock], parts: dict[str, float], **more: Any) -> Jar:
    values: dict[str, Any] = {
        "tested_on": today() - timedelta(days=40),
        "days": 35,
        "temperature_f": 32,
        "outcome": "clear",
    }
    return Jar(parts={stocks[code]: part for code, part in parts.items()}, **values | more)


def registered(by: User, made: Jar, key: str = "jar-key-1") -> JarTest:
    return register_jar_test(jar=made, key=key, acting_user=by)


def test_parts_in_any_unit_become_percent_by_weight(catalogue, formulator):
    test = registered(formulator, jar(catalogue, {"UAN": 120.0, "TRZ": 60.0, "KAC": 20.0}))
    assert test.recipe() == {"UAN": 60.0, "TRZ": 30.0, "KAC": 10.0}


@pytest.mark.parametrize("role", ["formulator", "plant_worker", "rep"])
def test_formulator_plant_and_rep_may_register(catalogue, role, request):
    who = request.getfixturevalue(role)
    assert registered(who, jar(catalogue, {"UAN": 1.0})).who == str(who)


@pytest.mark.parametrize("role", ["office", "customer"])
def test_nobody_else_may_register(catalogue, role, request):
    with pytest.raises(NotAllowed):
        registered(request.getfixturevalue(role), jar(catalogue, {"UAN": 1.0}))
    assert not JarTest.objects.exists()


def test_the_same_key_registers_one_jar(catalogue, rep):
    first = registered(rep, jar(catalogue, {"UAN": 1.0}))
    assert registered(rep, jar(catalogue, {"UAN": 1.0, "KAC": 3.0})) == first
    assert JarTest.objects.count() == 1
    assert first.recipe() == {"UAN": 100.0}


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"tested_on": None}, "tested_on"),
        ({"days": 42}, "days"),
        ({"days": float("nan")}, "days"),
        ({"temperature_f": 500}, "temperature_f"),
        ({"outcome": "wonderful"}, "outcome"),
    ],
)
def test_figures_that_cannot_be_are_refused(catalogue, rep, change, field):
    if change.get("tested_on", 0) is None:
        change = {"tested_on": today() + timedelta(days=1), "days": 0}
    with pytest.raises(BadInput) as refused:
        registered(rep, jar(catalogue, {"UAN": 1.0}, **change))
    assert field in refused.value.fields
    assert not JarTest.objects.exists()


@pytest.mark.parametrize("part", [0.0, -1.0, float("inf")])
def test_a_weight_that_is_none_is_refused(catalogue, rep, part):
    with pytest.raises(BadInput):
        registered(rep, jar(catalogue, {"UAN": 1.0, "KAC": part}))


def test_a_jar_test_is_never_edited(catalogue, rep):
    test = registered(rep, jar(catalogue, {"UAN": 1.0}))
    test.outcome = "cloudy"
    with pytest.raises(WrittenOnce):
        test.save()
    with pytest.raises(WrittenOnce):
        test.shares.all().delete()


def test_a_withdrawn_jar_vouches_for_nothing_and_stays_to_be_read(catalogue, rep, formulator):
    test = registered(rep, jar(catalogue, {"UAN": 60.0, "KAC": 40.0}))
    recipe = {"UAN": 59.0, "KAC": 41.0}
    assert storage_check(recipe).jars.is_tested
    withdraw_jar_test(jar_test=test, why="Wrong lot.", acting_user=formulator)
    assert not storage_check(recipe).jars.is_tested
    assert storage_check(recipe).nearest == ()
    assert JarTest.objects.get() == test
    with pytest.raises(IllegalMove):
        withdraw_jar_test(jar_test=test, why="Again.", acting_user=formulator)


def test_only_the_formulator_withdraws_and_gives_a_reason(catalogue, rep, formulator):
    test = registered(rep, jar(catalogue, {"UAN": 1.0}))
    with pytest.raises(NotAllowed):
        withdraw_jar_test(jar_test=test, why="No.", acting_user=rep)
    with pytest.raises(BadInput):
        withdraw_jar_test(jar_test=test, why=" ", acting_user=formulator)


def test_the_check_says_how_far_the_nearest_jar_is_and_what_it_lacked(catalogue, rep):
    registered(rep, jar(catalogue, {"UAN": 60.0, "KAC": 40.0}))
    found = storage_check({"UAN": 55.0, "KAC": 40.0, "FES": 5.0}, days=60, storage_f=20)
    (near,) = found.nearest
    assert found.asks_for_a_jar
    assert near.distance_pct == pytest.approx(5.0)
    assert near.differences == ("5.0 points more FES", "5.0 points less UAN")
    assert near.falls_short == (
        "held no FES",
        "stood 25 days too short",
        "was kept 12 °F too warm",
    )


def test_published_cold_figures_serve_only_the_published_analysis(catalogue):
    # Water is water in any catalogue: it freezes at 32 °F by definition of the scale.
    found = storage_check({"UAN": 90.0, "WATER": 10.0}, storage_f=20)
    by_name = {row.name: row.verdict for row in found.stocks}
    assert by_name == {"urea ammonium nitrate solution": "not_assessed", "water": "may_salt_out"}
    assert found.cold.water_unknown == ("UAN",)
    catalogue["WATER"].analysis_figures.create(key="Ca", pct=0.5, source="edited", mark="demo")
    edited = storage_check({"UAN": 90.0, "WATER": 10.0}, storage_f=20)
    assert {row.verdict for row in edited.stocks} == {"not_assessed"}


def test_a_recipe_survives_its_link():
    query = register_query({"UAN": 60.25, "K:C": 39.75})
    assert recipe_from_query(
        query.removeprefix("recipe=").replace("%3A", ":").replace("%2C", ",")
    ) == {
        "UAN": 60.25,
        "K:C": 39.75,
    }
    assert recipe_from_query("UAN:x,,:5,KAC:3") == {"KAC": 3.0}


# ---- pages


def sent(**more: Any) -> dict[str, Any]:
    values = {
        "key": "form-key-1",
        "rows": "6",
        "stock_0": "UAN",
        "part_0": "60",
        "stock_2": "KAC",
        "part_2": "40",
        "tested_on": (today() - timedelta(days=40)).isoformat(),
        "days": "35",
        "temperature_f": "32",
        "outcome": "clear",
    }
    return values | more


def test_registering_on_the_page_leads_to_the_jar(
    catalogue: dict[str, BaseStock], rep: User, signed_in: Callable[[User], Client], tmp_path: Any
) -> None:
    client = signed_in(rep)
    with override_settings(MEDIA_ROOT=tmp_path):
        photo = SimpleUploadedFile("../../jar.exe", PNG)
        response = client.post(reverse("jar_test_register"), sent(photo=photo), follow=True)
        test = JarTest.objects.get()
        assert response.redirect_chain[0][0] == reverse("jar_test_detail", args=[test.pk])
        assert "Stayed clear" in response.content.decode()
        shown = client.get(reverse("jar_test_photo", args=[test.pk]))
        assert (shown.content, shown["Content-Type"]) == (PNG, "image/png")
        assert shown["Cache-Control"] == "private, no-store"
    assert test.photo.name.endswith(".png")
    assert test.recipe() == {"UAN": 60.0, "KAC": 40.0}


@pytest.mark.parametrize(
    ("change", "word"),
    [
        ({"photo": SimpleUploadedFile("jar.png", b"<script>")}, "neither a PNG"),
        ({"part_2": ""}, "Give its weight"),
        ({"stock_2": "UAN"}, "stands twice"),
        ({"stock_0": "", "part_0": "", "stock_2": "", "part_2": ""}, "Say what was weighed"),
        ({"days": "90"}, "days have passed"),
        ({"outcome": ""}, "required"),
    ],
)
def test_a_slip_stands_at_its_field_and_writes_nothing(catalogue, rep, signed_in, change, word):
    response = signed_in(rep).post(reverse("jar_test_register"), sent(**change))
    assert response.status_code == 400
    assert word in response.content.decode()
    assert not JarTest.objects.exists()


def test_the_form_begins_with_the_recipe_of_a_revision(formulator, company, signed_in):
    make_shop()
    revision = save_half_slow(formulator, company)
    page = signed_in(formulator).get(reverse("jar_test_register"), {"revision": revision.pk})
    form: JarTestForm = page.context["form"]
    begun = {form.initial[f"stock_{row}"] for row in range(revision.lines.count())}
    assert begun == set(revision.lines.values_list("stock__code", flat=True))
    assert str(revision) in page.content.decode()


def test_the_list_finds_jars_by_stock_and_outcome(catalogue, rep, signed_in):
    registered(rep, jar(catalogue, {"UAN": 1.0}), "jar-key-1")
    registered(rep, jar(catalogue, {"KAC": 1.0}, outcome="crystals"), "jar-key-2")
    client = signed_in(rep)

    def found(**query: str) -> int:
        return len(client.get(reverse("jar_test_list"), query).context["page"].object_list)

    assert (found(), found(stock="UAN"), found(outcome="crystals")) == (2, 1, 1)
    assert found(stock="UAN", outcome="crystals") == 0


def test_a_jar_without_photo_has_none_to_show(catalogue, rep, signed_in):
    test = registered(rep, jar(catalogue, {"UAN": 1.0}))
    assert signed_in(rep).get(reverse("jar_test_photo", args=[test.pk])).status_code == 404


def test_withdrawing_on_the_page_asks_for_a_reason(catalogue, formulator, signed_in):
    test = registered(formulator, jar(catalogue, {"UAN": 1.0}))
    client, url = signed_in(formulator), reverse("jar_test_withdraw", args=[test.pk])
    assert client.post(url, {"why": ""}).status_code == 400
    page = client.post(url, {"why": "Mixed up."}, follow=True).content.decode()
    assert "Mixed up." in page
    assert "counts no more" in page


def test_customers_see_no_jar(catalogue, rep, customer: User, company: Company, signed_in):
    test = registered(rep, jar(catalogue, {"UAN": 1.0}))
    client = signed_in(customer)
    for name, args in (("jar_test_list", []), ("jar_test_detail", [test.pk])):
        assert client.get(reverse(name, args=args)).status_code in (403, 404)
    assert not JarTest.objects.visible_to(customer).exists()


def test_the_page_of_a_blend_asks_for_a_jar_until_one_like_it_stayed_clear(
    formulator, company, signed_in
):
    make_shop()
    revision = save_half_slow(formulator, company)
    url = reverse("blend_detail", args=[revision.blend_id])
    client = signed_in(formulator)
    assert "Do a jar test first." in client.get(url).content.decode()
    parts = {line.stock.code: line.pct for line in revision.lines.select_related("stock")}
    stocks = {row.code: row for row in BaseStock.objects.all()}
    test = registered(formulator, jar(stocks, parts, revision=revision))
    page = client.get(url).content.decode()
    assert "Tested." in page
    assert reverse("jar_test_detail", args=[test.pk]) in page
    colder = client.get(url, {"storage_f": "10"})
    assert "kept 22 °F too warm" in colder.content.decode()
    assert client.get(url, {"storage_f": "warm"}).context["storage"] is None


def test_a_customer_reads_the_verdict_and_nothing_of_other_jars(
    formulator, company, customer, signed_in
):
    make_shop()
    revision = save_half_slow(formulator, company)
    stocks = {row.code: row for row in BaseStock.objects.all()}
    test = registered(formulator, jar(stocks, {"UAN": 30.0, "FES": 70.0}))
    page = signed_in(customer).get(reverse("blend_detail", args=[revision.blend_id]))
    text = page.content.decode()
    assert "Do a jar test first." in text
    assert "points more" not in text
    assert f"/jar-tests/{test.pk}/" not in text
