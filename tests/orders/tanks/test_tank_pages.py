"""The pages of the tanks: the one thing first, what is in it; the forms write the ledger."""

import pytest
from django.urls import reverse

from orders.tanks.heel import EmptyTank, UnknownTank, heel_of
from tests.factories import TankFactory
from tests.orders.production.charging_cases import charged_and_made, drained, new_key
from tests.orders.tanks.tank_cases import make_and_fill


def page(client, tank=None):
    url = reverse("tank_list") if tank is None else reverse("tank_detail", args=[tank.pk])
    html = client.get(url).content.decode()
    assert html.count("<h1") == 1
    assert " style=" not in html
    return html


def post(client, name, tank, **fields):
    return client.post(reverse(name, args=[tank.pk]), {"key": new_key(), **fields}, follow=True)


def test_the_list_says_of_each_tank_what_is_in_it(load, tank, plant_worker, signed_in, rep):
    TankFactory(name="Old tank", signed=False)
    batch = load()
    charged_and_made(batch, plant_worker)
    html = page(signed_in(rep))
    assert f"Half slow summer ({batch.number})" in html
    assert "signed by Pat Plant" in html
    assert "Nobody has signed what is in Old tank." in html
    assert "until then no batch is charged here" in html


def test_what_is_in_the_tank_stands_before_anything_else(load, tank, plant_worker, signed_in):
    first, second = load(), load()
    make_and_fill(first, plant_worker, heel_lb=90)
    make_and_fill(second, plant_worker, heel_lb=90)
    html = page(signed_in(plant_worker), tank)
    said = html.index(f"Heel of Half slow summer ({second.number})")
    assert said < html.index("<form", html.index("<h1"))
    assert "90 lb" in html[said : said + 400]
    made_of = html[html.index("Made of") : html.index("Ledger")]
    assert first.number in made_of, "the heel of the heel"
    assert "urea ammonium nitrate solution" in made_of
    for words in ("charging begun", "batch finished", "drained", "looked and signed"):
        assert words in html


def test_signing_draining_and_rinsing_by_the_pages(load, tank, plant_worker, signed_in):
    client = signed_in(plant_worker)
    batch = load()
    charged_and_made(batch, plant_worker)
    drain = {"heel_gal": "", "note": "pumped to tote 4"}
    assert "drained to its heel" in post(client, "tank_drain", tank, **drain).content.decode()
    html = page(client, tank)
    assert "12 gal" in html
    assert "pumped to tote 4" in html
    rinse = {"water_lb": "300", "residue_lb": "120", "is_kept": "kept", "location": "tote R1"}
    assert "held until it is assayed" in post(client, "tank_rinse", tank, **rinse).content.decode()
    assert isinstance(heel_of(tank), EmptyTank)
    other = {
        "found": "other", "volume_gal": "40", "product": "sample run", "density_lb_per_gal": "9.5",
        "analysis": "N.urea 10, K2O 2.5",
    }  # fmt: skip
    post(client, "tank_sign", tank, **other)
    assert heel_of(tank).heel.analysis == {"N.urea": 10.0, "K2O": 2.5}
    refused = post(client, "tank_sign", tank, found="heel", batch="B-1999-0001")
    assert refused.status_code == 400
    assert "There is no batch B-1999-0001." in refused.content.decode()
    total_n = post(client, "tank_sign", tank, **(other | {"analysis": "N 10"}))
    assert "N is not one of N.ammoniacal" in total_n.content.decode()
    post(client, "tank_sign", tank, found="unknown", note="milky")
    assert isinstance(heel_of(tank), UnknownTank)


@pytest.mark.parametrize("who", ["rep", "office"])
def test_those_who_only_read_find_no_form(request, load, tank, plant_worker, signed_in, who):
    charged_and_made(load(), plant_worker)
    html = page(signed_in(request.getfixturevalue(who)), tank)
    assert reverse("tank_sign", args=[tank.pk]) not in html
    assert reverse("tank_drain", args=[tank.pk]) not in html


def test_the_charging_screen_says_why_it_is_not_yet_this_batch_s_turn(
    load, tank, plant_worker, signed_in
):
    first, second = load(), load()
    client = signed_in(plant_worker)
    html = client.get(reverse("batch_charge", args=[first.number])).content.decode()
    assert "Tank 1 is empty and rinsed." in html
    assert "Plan this load again." not in html
    charged_and_made(first, plant_worker)
    url = reverse("batch_charge", args=[second.number])
    html = client.get(url).content.decode()
    assert "Not yet.</strong>" in html
    assert f"Tank 1 holds {first.number}" in html
    charge = {"key": new_key(), "step": "1", "mass_lb": "10", "person": plant_worker.pk}
    refused = client.post(url, charge, headers={"accept": "application/json"})
    assert refused.status_code == 409
    drained(tank, plant_worker, heel_gal=30.0)
    html = client.get(url).content.decode()
    assert "Not yet" not in html
    assert f"30 gal of Half slow summer ({first.number}) are left in the tank" in html
    assert "Plan this load again." in html, "it was planned onto the usual 12 gal"
    charged_and_made(second, plant_worker)
    assert f"the heel it was begun on: Half slow summer ({first.number})" in (
        client.get(url).content.decode()
    )


def test_planning_asks_to_look_into_a_tank_nobody_knows(load, tank, plant_worker, signed_in):
    batch = load()
    batch.tank = TankFactory(name="Old tank", signed=False)
    batch.save()
    html = signed_in(plant_worker).get(reverse("tank_planning")).content.decode()
    assert "Look and sign first." in html
    assert "Look into it and sign" in html
    assert "No flush is needed after that" in html
