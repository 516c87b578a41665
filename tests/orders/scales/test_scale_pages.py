"""Pages of the scales, and what a failed one does on the charging screen and the ticket."""

import re
from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from blendshop.errors import IllegalMove
from orders.models import Charge, ScaleVerification
from orders.production.actions.charging import charge_lot
from orders.production.steps import batch_steps
from tests.orders.production.charging_cases import MEANT, made_by_ticket, new_key
from tests.orders.scales.scale_cases import verify


def typed(**changed):
    form = {
        "key": new_key(),
        "load_1": "1000",
        "reading_1": "1000",
        "weights": "20 × 50 lb",
        "checked_at": timezone.localtime().strftime("%Y-%m-%dT%H:%M"),
    }
    return {**form, **changed}


def test_a_verification_is_typed_beside_the_scale(tank, plant_worker, signed_in):
    url = reverse("scale_check", args=[tank.pk, "main"])
    client = signed_in(plant_worker)
    assert client.post(url, typed(load_2="500", reading_2="500.5")).status_code == 302
    html = client.get(url).content.decode()
    assert "1,000 lb read 1,000 lb, ± 2 allowed" in html
    assert "500 lb read 500.5 lb, ± 1 allowed" in html
    assert "Passed on" in html
    assert "smallest load 20 lb" in html


def test_a_refused_verification_comes_back_as_typed(tank, plant_worker, signed_in):
    url = reverse("scale_check", args=[tank.pk, "main"])
    response = signed_in(plant_worker).post(url, typed(load_2="500", weights="ours, no. 12"))
    assert response.status_code == 400
    html = response.content.decode()
    assert "A load and its reading belong together." in html
    assert 'value="ours, no. 12"' in html
    assert not ScaleVerification.objects.exists()
    response = signed_in(plant_worker).post(url, typed(load_1="11000", reading_1="11000"))
    assert "at most 10000 lb" in response.content.decode()


def test_a_rep_looks_and_does_not_write(tank, rep, signed_in):
    url = reverse("scale_check", args=[tank.pk, "fine"])
    client = signed_in(rep)
    assert 'name="load_1"' not in client.get(url).content.decode()
    assert client.post(url, typed()).status_code == 403
    assert client.get(reverse("scale_check", args=[tank.pk, "none"])).status_code == 404


def test_the_list_names_those_first_that_stop_or_are_due(tank, plant_worker, signed_in):
    verify(tank, plant_worker, reading="1003")
    html = signed_in(plant_worker).get(reverse("scale_list")).content.decode()
    assert "Stopped." in html
    assert html.index("Main scale of Tank 1") < html.index("Small scale of Tank 1")


# --- On the plant floor --------------------------------------------------------------------------
def test_nothing_is_charged_on_a_failed_scale_until_it_passes(batch, lots, plant_worker):
    step = batch_steps(batch)[0]
    verify(batch.tank, plant_worker, reading="1003", days_ago=1)

    def charge(**more):
        return charge_lot(
            batch=batch,
            step=step.number,
            lot=lots.get(step.code),
            mass_lb=step.target_lb,
            key=new_key(),
            acting_user=plant_worker,
            confirmed=MEANT,
            **more,
        )

    with pytest.raises(IllegalMove, match="failed its verification"):
        charge()
    assert not Charge.objects.exists()
    charge(weighed_at=timezone.now() - timedelta(days=2))
    batch.refresh_from_db()
    verify(batch.tank, plant_worker)
    charge()
    assert Charge.objects.count() == 2


def test_a_ticket_weighed_on_a_failed_scale_is_refused(batch, plant_worker):
    verify(batch.tank, plant_worker, reading="1003")
    with pytest.raises(Exception, match="second look"):
        made_by_ticket(batch, plant_worker)
    assert not Charge.objects.exists()


@pytest.mark.parametrize("page", ["batch_charge", "batch_detail", "batch_paper"])
def test_a_failed_scale_is_named_where_it_is_weighed_on(page, batch, lots, plant_worker, signed_in):
    client, url = signed_in(plant_worker), reverse(page, args=[batch.number])

    def page_says():
        return " ".join(client.get(url).content.decode().split())

    assert "Main scale of Tank 1" not in page_says()
    verify(batch.tank, plant_worker, days_ago=60)
    assert "Main scale of Tank 1:</strong> Was to be verified" in page_says()
    verify(batch.tank, plant_worker, reading="1003")
    assert "Main scale of Tank 1:</strong> Failed on" in page_says()


def test_the_screen_offers_no_weight_on_a_failed_scale(batch, lots, plant_worker, signed_in):
    client, url = signed_in(plant_worker), reverse("batch_charge", args=[batch.number])
    form = re.compile(r'<form id="charge-form"[^>]* hidden>')
    assert not form.search(client.get(url).content.decode())
    verify(batch.tank, plant_worker, reading="1003")
    assert form.search(client.get(url).content.decode())
