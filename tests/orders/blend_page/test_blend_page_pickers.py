"""What the blend page offers of very many customers and stocks: what fits, and what is chosen."""

import re

import pytest
from django.urls import reverse

from blendshop.accounts.models import Company
from blendshop.searched_rows import FEW, FEW_KNOWN
from formulas.models import BaseStock
from tests.factories import BaseStockFactory, CompanyFactory, ShipToFactory
from tests.orders.blend_page.blend_page_cases import WISH, page_text


def options(html, select):
    """Keys offered by the select of this id."""
    found = re.search(rf'<select[^>]*id="{select}".*?</select>', html, re.DOTALL)
    assert found, select
    return re.findall(r'<option value="([^"]*)"', found.group())


@pytest.fixture
def many_stocks():
    return [
        BaseStockFactory(
            code=f"EXTRA{n}", name=f"Zeolite slurry {n}", analysis={"Fe": 0.1}, cost_per_lb="9"
        )
        for n in range(FEW_KNOWN)
    ]


def test_the_chosen_customer_stays_on_offer_among_very_many(rep, signed_in):
    CompanyFactory.create_batch(FEW)
    chosen = CompanyFactory(name="Zinnia Court Lawns (demo)")
    yard = ShipToFactory(company=chosen, label="North yard")
    client = signed_in(rep)
    html = page_text(client, WISH | {"company": str(chosen.pk), "company_search": "test lawn"})
    assert str(chosen.pk) in options(html, "company")
    assert 'name="company_search" value="test lawn"' in html
    assert options(html, "ship_to") == ["", str(yard.pk)]
    link = re.search(r'href="([^"]*)">Link to this wish', html)
    assert link
    assert "company_search" not in link.group(1)  # no part of a wish
    asked = {"as": "company_search", "company_search": "zzz", "company": str(chosen.pk)}
    answer = client.get(reverse("blend_customer_options"), asked).text
    assert f'<option value="{chosen.pk}" selected>{chosen}</option>' in answer


def test_a_few_customers_and_stocks_stay_plain_selects(rep, signed_in):
    html = page_text(signed_in(rep), WISH)
    assert "_search" not in html.partition("<main")[2]
    assert set(options(html, "company")) == {"", *(str(pk) for pk in _keys(Company))}


def test_very_many_stocks_are_searched_and_any_of_them_may_be_left_out(rep, signed_in, many_stocks):
    client, last = signed_in(rep), many_stocks[-1]
    typed = WISH | {"recipe_code_0": last.code, "recipe_code_0_search": "uan"}
    html = page_text(client, typed)
    offered = options(html, "recipe_code_0")
    assert last.code in offered
    assert "UAN32" in offered or any("UAN" in code for code in offered)
    assert len(offered) < FEW
    html = page_text(client, WISH | {"exclude": [last.code, ""], "add": "exclude"})
    ticked = re.findall(r'<input[^>]*name="exclude"[^>]*value="([^"]+)"[^>]*checked', html)
    assert ticked == [last.code]
    assert last.code not in options(html, "leave_out_more")


def test_only_what_can_be_blended_today_is_offered(rep, signed_in, many_stocks):
    BaseStock.objects.filter(pk=many_stocks[0].pk).update(short=True)
    BaseStockFactory(code="EXTRA-UNPRICED", name="Zeolite without a cost", cost_per_lb=False)
    asked = {"as": "limit_code_0_search", "limit_code_0_search": "zeolite"}
    answer = signed_in(rep).get(reverse("blend_stock_options"), asked).text
    assert "EXTRA1" in answer
    assert '"EXTRA0"' not in answer
    assert "EXTRA-UNPRICED" not in answer


def _keys(model):
    return model.objects.values_list("pk", flat=True)
