"""Who writes quotes says under which number they are to be reached."""

import pytest
from django.urls import reverse

from blendshop.accounts.actions.own_phone import set_own_phone
from blendshop.errors import NotAllowed

pytestmark = pytest.mark.django_db


def test_a_rep_sets_the_phone_that_stands_on_quotes_and_a_word_is_none(signed_in, rep):
    client, address = signed_in(rep), reverse("own_phone")
    assert address in client.get(reverse("own_sign_in")).text
    assert client.post(address, {"phone": " 555-0123  ext. 4"}).status_code == 302
    rep.refresh_from_db()
    assert rep.phone == "555-0123 ext. 4"
    refused = client.post(address, {"phone": "ask Marit"})
    assert refused.status_code == 400
    assert "as it is dialled" in refused.text
    assert 'value="ask Marit"' in refused.text
    rep.refresh_from_db()
    assert rep.phone == "555-0123 ext. 4"
    client.post(address, {"phone": ""})
    rep.refresh_from_db()
    assert rep.phone == ""


def test_nobody_else_has_one_on_quotes(customer, plant_worker):
    for person in (customer, plant_worker):
        with pytest.raises(NotAllowed):
            set_own_phone(acting_user=person, phone="555-0100")
