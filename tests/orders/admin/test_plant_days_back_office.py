"""The office says on which days the plant works and how long things take."""

from django.urls import reverse

from orders.models import ClosedDay, PlantProfile
from tests.factories import PlantProfileFactory, in_days

TYPED = {
    "name": "Test Plant",
    "address": "1 Test Road",
    "quote_validity_days": 30,
    "lead_time_working_days": 7,
    "release_working_days": 2,
    "minutes_a_day": 600,
    "minutes_a_flush": 45,
}


def test_days_of_the_week_are_ticked_and_a_week_without_one_is_refused(signed_in, office):
    profile = PlantProfileFactory()
    client = signed_in(office)
    page = reverse("admin:orders_plantprofile_change", args=[profile.pk])
    shown = client.get(page)
    assert shown.content.decode().count('type="checkbox" name="working_weekdays"') == 7
    # Whatever else the profile asks for stays as it is.
    rest = {name: value for name, value in shown.context["adminform"].form.initial.items() if value}
    saved = client.post(page, rest | TYPED | {"working_weekdays": ["6", "1", "3"]})
    assert saved.status_code == 302, saved.context["adminform"].form.errors
    profile.refresh_from_db()
    assert (profile.working_weekdays, profile.minutes_a_day) == ("136", 600)
    refused = client.post(page, rest | TYPED | {"working_weekdays": []})
    assert "working_weekdays" in refused.context["adminform"].form.errors
    long = client.post(page, rest | TYPED | {"working_weekdays": ["1"], "minutes_a_flush": 601})
    assert "a flush is done within" in long.content.decode()
    assert PlantProfile.objects.get().working_weekdays == "136"


def test_the_office_alone_closes_a_day(signed_in, office, rep):
    page = reverse("admin:orders_closedday_add")
    typed = {"day": in_days(3).isoformat(), "why": "stocktaking"}
    assert signed_in(rep).post(page, typed).status_code in (302, 403)
    assert not ClosedDay.objects.exists()
    signed_in(office).post(page, typed)
    assert ClosedDay.objects.get().day == in_days(3)
