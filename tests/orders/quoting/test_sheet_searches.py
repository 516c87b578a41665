"""A quote's sheet with more customers, addresses and blends than anybody scrolls through."""

from collections.abc import Callable
from typing import Any

from django.urls import reverse

from blendshop.accounts.models import Company, User
from blendshop.searched_rows import FEW
from tests.factories import CompanyFactory, ShipToFactory


def test_a_customer_of_very_many_addresses_is_searched(
    rep: User, company: Company, signed_in: Callable[..., Any]
) -> None:
    CompanyFactory.create_batch(FEW)
    for number in range(FEW):
        ShipToFactory(company=company, label=f"Yard {number}")
    chosen = ShipToFactory(company=company, label="Zinnia depot")
    elsewhere = ShipToFactory(label="Zinnia depot too")
    client = signed_in(rep)
    asked = {"company": company.pk, "ship_to": chosen.pk}
    sheet = client.get(reverse("quote_new"), asked).context["sheet"]
    offered = {str(key) for key, _ in sheet.form.fields["ship_to"].widget.choices}
    assert str(chosen.pk) in offered
    assert len(offered) <= FEW + 2
    assert len(sheet.form.fields["company"].widget.choices) <= FEW + 2
    url = sheet.form.fields["ship_to"].widget.url
    typed = {"as": "ship_to_search", "ship_to_search": "zinnia", "company": company.pk}
    found = client.get(url, typed).text
    assert f'value="{chosen.pk}"' in found
    assert f'value="{elsewhere.pk}"' not in found
    assert "Yard" not in found
