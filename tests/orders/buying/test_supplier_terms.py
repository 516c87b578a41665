"""The office's table of supplier terms."""

from decimal import Decimal

import pytest
from django.urls import reverse

from blendshop.errors import NotAllowed
from orders.buying.actions import save_supplier_terms
from orders.models import SupplierTerms
from tests.factories import BaseStockFactory
from tests.orders.buying.buying_cases import terms_of


def sent(page, **typed):
    """What the browser sends of the table on a page, with what was typed over it."""
    rows = page.context["rows"]
    values = {f"terms-{name}": value for name, value in rows.management_form.initial.items()}
    for form in rows.forms:
        for field in form:
            value = field.value()
            if value is not None and value is not False:
                values[field.html_name] = "on" if value is True else value
    return {**values, **{f"terms-{name}": value for name, value in typed.items()}}


def typed_row(number, **more):
    row = {"supplier": "Supplier A", "lead_days": "10", "pack_lb": "2650", "least_order_lb": "0"}
    return {f"{number}-{name}": value for name, value in (row | more).items()}


def test_an_empty_row_is_filled_in_and_kept_with_who_did_it(office, signed_in):
    BaseStockFactory(code="ACID")
    salt = BaseStockFactory(code="SALT")
    client, url = signed_in(office), reverse("supplier_terms")
    page = client.get(url)
    assert [form.of_stock.code for form in page.context["forms"]] == ["ACID", "SALT"]
    answer = client.post(url, sent(page, **typed_row(1, pack_lb="2650.5", price_note="By letter")))
    assert answer.status_code == 302
    terms = SupplierTerms.objects.get()
    assert (terms.stock, terms.pack_lb, terms.preferred) == (salt, Decimal("2650.5"), True)
    assert terms.history.get().history_user == office
    assert "The supplier terms are saved." in client.get(url).text
    client.post(url, sent(client.get(url)))
    assert "Nothing was changed." in client.get(url).text
    assert terms.history.count() == 1


def test_another_supplier_becomes_the_preferred_one_in_one_step(office, signed_in):
    salt = BaseStockFactory(code="SALT")
    first = terms_of(salt)
    client, url = signed_in(office), f"{reverse('supplier_terms')}?stock=SALT"
    page = client.get(url)
    both = sent(page, **typed_row(1, supplier="Supplier B", preferred="on"))
    refused = client.post(url, both)
    assert refused.status_code == 400
    assert "Prefer one supplier of SALT." in refused.text
    assert SupplierTerms.objects.count() == 1
    del both["terms-0-preferred"]
    assert client.post(url, both).status_code == 302
    assert SupplierTerms.objects.get(preferred=True).supplier == "Supplier B"
    again = sent(client.get(url))
    at = next(key for key, value in again.items() if value == first.pk and key.endswith("-id"))
    client.post(url, {**again, at.replace("-id", "-DELETE"): "on"})
    assert not SupplierTerms.objects.filter(pk=first.pk).exists()


def test_what_no_supplier_sells_is_refused_beside_its_field(office, signed_in):
    BaseStockFactory(code="SALT")
    client, url = signed_in(office), reverse("supplier_terms")
    for wrong in ({"pack_lb": "0"}, {"pack_lb": ""}, {"lead_days": "soon"}, {"supplier": ""}):
        answer = client.post(url, sent(client.get(url), **typed_row(0, **wrong)))
        assert answer.status_code == 400, wrong
        assert "invalid-feedback" in answer.text
    assert not SupplierTerms.objects.exists()


def test_only_the_office_writes_terms(plant_worker):
    with pytest.raises(NotAllowed):
        save_supplier_terms(acting_user=plant_worker, rows=[], removed=[])


def test_the_table_asks_as_often_for_many_stocks_as_for_few(
    office, signed_in, django_assert_max_num_queries
):
    client = signed_in(office)
    for number in range(12):
        terms_of(BaseStockFactory(code=f"S{number}"))
        BaseStockFactory(code=f"T{number}")
    client.get(reverse("supplier_terms"))
    with django_assert_max_num_queries(14):
        assert client.get(reverse("supplier_terms")).status_code == 200
