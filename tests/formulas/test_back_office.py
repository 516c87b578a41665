"""The back office: the upload's rules and history; costs are on pages of their own."""

from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client

from blendshop.accounts.models import User
from formulas.models import BaseStock, StockCost

pytestmark = pytest.mark.usefixtures("catalogue")

BASE = "/back-office/formulas"


def stock_form(stock: BaseStock | None, **changes: Any) -> dict[str, Any]:
    """What the form posts for a stock: its fields, its figures, one empty new cost."""
    figures = list(stock.analysis_figures.all()) if stock else []
    data: dict[str, Any] = {
        "code": "NEW", "name": "new", "density_lb_per_gal": "10.5", "density_temp_f": "68",
        "density_source": "sheet", "density_mark": "supplier", "charging_rank": "50",
        "min_pct": "0", "max_pct": "100", "scale_step_lb": "1",
        "analysis_figures-TOTAL_FORMS": str(len(figures) + 1),
        "analysis_figures-INITIAL_FORMS": str(len(figures)),
    }  # fmt: skip
    for number, figure in enumerate(figures):
        for name in ("id", "key", "pct", "source", "mark"):
            data[f"analysis_figures-{number}-{name}"] = getattr(figure, name)
        data[f"analysis_figures-{number}-stock"] = figure.stock_id
    data[f"analysis_figures-{len(figures)}-stock"] = stock.pk if stock else ""
    return {**data, **changes}


def page(client: Client, path: str, data: dict[str, Any] | None = None) -> tuple[int, str]:
    response = client.get(path) if data is None else client.post(path, data)
    return response.status_code, response.content.decode()


@pytest.fixture
def client(formulator: User, signed_in: Callable[[User], Client]) -> Client:
    return signed_in(formulator)


def test_every_table_opens(client: Client) -> None:
    uan = BaseStock.objects.get(code="UAN")
    for path in (
        "/basestock/", "/basestock/add/", f"/basestock/{uan.pk}/change/",
        f"/basestock/{uan.pk}/history/", "/trait/", "/compatibilityrule/",
        "/compatibilityrule/add/",
    ):  # fmt: skip
        assert page(client, BASE + path)[0] == 200, path


def test_a_stock_is_edited_with_its_history(client: Client, formulator: User) -> None:
    uan = BaseStock.objects.get(code="UAN")
    status, _ = page(client, f"{BASE}/basestock/{uan.pk}/change/", stock_form(uan, name="Our UAN"))
    assert status == 302
    uan.refresh_from_db()
    assert (uan.code, uan.name) == ("UAN", "Our UAN")
    assert uan.history.first().history_user == formulator


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"analysis_figures-3-key": "K2O", "analysis_figures-3-pct": "90",
          "analysis_figures-3-source": "s", "analysis_figures-3-mark": "demo"}, "adds up to"),
        ({"min_pct": "60", "max_pct": "50"}, "must not exceed the maximum"),
        ({"density_lb_per_gal": "0"}, "greater than or equal to 5"),
        ({"density_lb_per_gal": "NaN"}, "Enter a number"),
        ({"ph_low": "9", "ph_high": "7"}, "The highest pH is below the lowest."),
        ({"density_source": ""}, "This field is required."),
    ],
)  # fmt: skip
def test_the_rules_of_the_upload_hold_here_too(
    client: Client, changes: dict[str, str], words: str
) -> None:
    uan = BaseStock.objects.get(code="UAN")
    status, text = page(client, f"{BASE}/basestock/{uan.pk}/change/", stock_form(uan, **changes))
    assert status == 200
    assert words in text


def test_a_new_code_must_fit_into_an_address(client: Client) -> None:
    status, text = page(client, f"{BASE}/basestock/add/", stock_form(None, code="a/b"))
    assert (status, "cannot be a code" in text) == (200, True)
    assert page(client, f"{BASE}/basestock/add/", stock_form(None))[0] == 302
    assert BaseStock.objects.filter(code="NEW").exists()


def test_stocks_are_not_deleted_and_costs_are_no_matter_of_the_back_office(client: Client) -> None:
    uan, costs = BaseStock.objects.get(code="UAN"), StockCost.objects.count()
    assert client.post(f"{BASE}/basestock/{uan.pk}/delete/", {"post": "yes"}).status_code == 403
    new = {"costs-TOTAL_FORMS": "1", "costs-0-amount": "380.00", "costs-0-unit": "ton"}
    assert page(client, f"{BASE}/basestock/{uan.pk}/change/", stock_form(uan, **new))[0] == 302
    assert StockCost.objects.count() == costs
    assert client.get(f"{BASE}/stockcost/").status_code == 404


@pytest.mark.parametrize("person", ["rep", "plant_worker", "customer"])
def test_others_do_not_get_in(
    request: pytest.FixtureRequest, signed_in: Callable[[User], Client], person: str
) -> None:
    client = signed_in(request.getfixturevalue(person))
    assert client.get(f"{BASE}/basestock/").status_code in (302, 403)
