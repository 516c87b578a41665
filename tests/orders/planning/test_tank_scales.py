"""What a tank is weighed on: wanted tolerance, main scale, a second scale for small weights."""

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.urls import reverse

from blendshop.roles import Role
from formulas.engine.plant.load import FineScale, LoadScale
from orders.demo import plant
from orders.models import Tank
from tests.factories import TankFactory, UserFactory


@pytest.fixture
def tank(db):
    return TankFactory(scale_step_lb=1.0)


def test_a_tank_wants_half_a_percent_and_has_one_scale_unless_told(tank):
    assert tank.tolerance_pct == 0.5
    assert tank.fine_scale is None
    assert tank.load_scale == LoadScale(1.0, None)


def test_a_tank_with_a_small_scale_weighs_on_both(tank):
    tank.fine_step_lb, tank.fine_max_lb = 0.1, 100.0
    tank.full_clean()
    tank.save()
    assert tank.load_scale == LoadScale(1.0, FineScale(0.1, 100.0))


@pytest.mark.parametrize(
    "figures",
    [
        {"tolerance_pct": 0.0},
        {"tolerance_pct": 5.1},
        {"fine_step_lb": 0.1},  # and nothing said of the most it takes
        {"fine_max_lb": 100.0},
        {"fine_step_lb": 1.0, "fine_max_lb": 100.0},  # no finer than the main scale
        {"fine_step_lb": 0.0, "fine_max_lb": 100.0},
        {"fine_step_lb": 0.5, "fine_max_lb": 0.1},
    ],
)
def test_figures_that_do_not_fit_are_refused_by_form_and_database(tank, figures):
    for name, figure in figures.items():
        setattr(tank, name, figure)
    with pytest.raises(
        ValidationError, match=r"tolerance in percent is above 0|division, finer than"
    ):
        tank.full_clean()
    with pytest.raises(IntegrityError), transaction.atomic():
        tank.save()


def test_the_back_office_edits_tolerance_and_small_scale(tank, signed_in):
    client = signed_in(UserFactory(role=Role.OFFICE, is_staff=True))
    page = reverse("admin:orders_tank_change", args=[tank.pk])
    assert "wanted tolerance" in client.get(page).content.decode().lower()
    typed = {
        "name": tank.name,
        "capacity_gal": 1200,
        "smallest_gal": 100,
        "scale_step_lb": "1",
        "tolerance_pct": "0.25",
        "fine_step_lb": "0.1",
        "fine_max_lb": "60",
        "loads_a_day": 3,
        "scale_class": "III",
        "active": "on",
    }
    assert client.post(page, typed).status_code == 302
    tank.refresh_from_db()
    assert (tank.tolerance_pct, tank.fine_step_lb, tank.fine_max_lb) == (0.25, 0.1, 60.0)
    refused = client.post(page, typed | {"fine_max_lb": ""}).content.decode()
    assert "both a division, finer than the main scale" in refused


@pytest.mark.django_db
def test_the_demo_has_a_tank_with_two_scales_and_one_with_one():
    tanks = [Tank(**figures) for figures in plant.TANKS]
    for each in tanks:
        each.full_clean()
    assert {each.fine_scale is None for each in tanks} == {True, False}
