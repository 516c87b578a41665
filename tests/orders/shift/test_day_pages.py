"""The day as a page: every section by its heading, forms that come back as typed."""

import re
from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from orders.models import HandoverNote, Order, RetainedSample, TankCleaning, UnsentWeights
from orders.production.actions.charging import charge_lot
from orders.production.steps import batch_steps
from orders.shift.actions.handover import write_note
from tests.orders.production.charging_cases import charged_and_made, new_key
from tests.orders.scales.scale_cases import verify

SECTIONS = ("Handover", "Tanks", "Due", "Short", "Scales", "Samples", "Left undone")


@pytest.fixture
def plant(signed_in, plant_worker):
    return signed_in(plant_worker)


def text(client, url):
    """What a page says, without its markup."""
    html = client.get(url).content.decode().split("<main", 1)[1].split("</main>", 1)[0]
    return " ".join(re.sub(r"<[^>]*>", " ", html).replace("&#x27;", "'").split())


def test_the_day_opens_with_its_sections_on_a_plant_that_has_nothing_yet(db, plant):
    html = plant.get(reverse("the_day")).content.decode()
    heads = re.findall(r"<h2[^>]*>([^<]+?)\s*<", html)
    assert tuple(heads) == SECTIONS
    said = text(plant, reverse("the_day"))
    assert "0 late, 0 today, 0 tomorrow" in said
    assert "no verification is written down yet" in said
    assert "No tank is in use." in said


def test_the_day_shows_step_due_date_and_who_weighed_last(batch, lots, plant_worker, plant):
    first = batch_steps(batch)[0]
    assert f"Next {batch.number} Half slow summer" in text(plant, reverse("the_day"))
    charge_lot(
        batch=batch,
        step=first.number,
        lot=lots.get(first.code),
        mass_lb=first.target_lb,
        key=new_key(),
        acting_user=plant_worker,
    )
    count = len(batch_steps(batch))
    said = text(plant, reverse("the_day"))
    assert f"1 of {count} stocks in {batch.number}" in said
    assert f"Step 2 of {count}: " in said
    assert "Last by Pat Plant" in said
    assert f"{count - 1} of {count} stocks not charged" in said.split("Left undone")[1]


def test_a_late_order_is_told_with_its_state(batch, plant):
    Order.objects.update(due_on=timezone.localdate() - timedelta(days=1))
    said = text(plant, reverse("the_day"))
    assert "1 late, 0 today, 0 tomorrow" in said
    assert "Brookmeadow Lawn Care" in said
    assert "batches planned" in said


def test_a_scale_that_is_overdue_and_one_that_failed_stand_in_their_line(
    batch, plant_worker, plant
):
    verify(batch.tank, plant_worker, days_ago=60)
    assert "main scale of Tank 1 overdue" in text(plant, reverse("the_day"))
    verify(batch.tank, plant_worker)
    assert "Scales all verified" in text(plant, reverse("the_day"))
    verify(batch.tank, plant_worker, reading="1003")
    assert "main scale of Tank 1 failed" in text(plant, reverse("the_day"))


def test_plant_staff_begin_with_the_day(plant, signed_in, office):
    assert plant.get("/")["Location"] == reverse("the_day")
    menu = plant.get(reverse("the_day")).content.decode().split('id="nav-links"', 1)[1]
    assert re.search(r'<a class="nav-link[^"]*" href="([^"]+)"', menu)[1] == reverse("the_day")
    assert signed_in(office).get(reverse("the_day")).status_code == 200


# --- Notes ---------------------------------------------------------------------------------------
def test_a_note_is_handed_over_and_read_with_one_tap(plant, signed_in, formulator):
    sent = {"key": new_key(), "shift": "late", "text": "Valve 3 drips.\nBucket under it."}
    assert plant.post(reverse("handover_notes"), sent)["Location"] == reverse("the_day")
    note = HandoverNote.objects.get()
    reading = signed_in(formulator)
    page = reading.get(reverse("the_day")).content.decode()
    assert "Valve 3 drips." in page
    assert page.index("late shift, Pat Plant") < page.index("Bucket under it.")
    assert page.count("I have read it") == 2
    reading.post(reverse("handover_read", args=[note.pk]))
    said = text(reading, reverse("the_day"))
    assert "Read by Fran Form" in said
    assert "I have read it" not in said


def test_a_refused_note_comes_back_as_typed(plant):
    sent = {"key": new_key(), "shift": "late", "text": "x" * 2001}
    response = plant.post(reverse("handover_notes"), sent)
    assert response.status_code == 400
    assert "x" * 2001 in response.content.decode()
    assert not HandoverNote.objects.exists()


def test_earlier_notes_are_all_on_their_page(plant, plant_worker):
    for number in range(7):
        write_note(shift="day", text=f"note {number}", key=new_key(), acting_user=plant_worker)
    assert "note 0" not in text(plant, reverse("the_day"))
    said = text(plant, reverse("handover_notes"))
    assert said.index("note 6") < said.index("note 0")


# --- Cleaning ------------------------------------------------------------------------------------
def test_a_cleaning_is_signed_on_the_tanks_page_as_it_was_seen(batch, plant, rep, signed_in):
    url = reverse("tank_cleaning", args=[batch.tank_id])
    html = plant.get(url).content.decode()
    seen = re.search(r'name="seen_entry" value="(\d+)"', html)[1]
    sent = {"key": new_key(), "seen_entry": seen, "how": "washed", "note": "spray ball"}
    refused = plant.post(url, {**sent, "seen_entry": "999999"})
    assert refused.status_code == 409
    assert 'value="spray ball"' in refused.content.decode()
    assert plant.post(url, sent).status_code == 302
    assert "spray ball" in text(plant, url)
    assert TankCleaning.objects.get().before == batch
    assert signed_in(rep).post(url, {**sent, "key": new_key()}).status_code == 403


# --- Samples -------------------------------------------------------------------------------------
def test_a_sample_is_written_down_and_thrown_out(batch, plant_worker, plant):
    charged_and_made(batch, plant_worker)
    url = reverse("batch_sample", args=[batch.number])
    assert "keep 12 months (common practice, no source)" in text(plant, url)
    assert url in plant.get(reverse("batch_detail", args=[batch.number])).content.decode()
    then = timezone.localtime() - timedelta(days=3)
    sent = {
        "key": new_key(),
        "kept_in": "shelf 3",
        "taken_at": then.strftime("%Y-%m-%dT%H:%M"),
        "keep_until": (then.date() + timedelta(days=1)).isoformat(),
    }
    refused = plant.post(url, {**sent, "keep_until": "2020-01-01"})
    assert refused.status_code == 400
    assert 'value="shelf 3"' in refused.content.decode()
    assert plant.post(url, sent).status_code == 302
    sample = RetainedSample.objects.get()
    assert "0 missing, 1 to throw out, 1 kept" in text(plant, reverse("the_day"))
    assert "shelf 3" in text(plant, reverse("sample_list"))
    gone = reverse("sample_discard", args=[sample.pk])
    assert plant.post(gone, {"key": new_key(), "why": ""}).status_code == 400
    assert plant.post(gone, {"key": new_key(), "why": "Kept its time."}).status_code == 302
    assert "Thrown out : Kept its time." in text(plant, url)
    assert "0 missing, 0 to throw out, 0 kept" in text(plant, reverse("the_day"))


# --- Unsent weights ------------------------------------------------------------------------------
def test_a_tablet_reports_over_http_and_the_day_says_so(batch, plant, plant_worker):
    url = reverse("unsent_report")
    sent = {"tablet": "c" * 32, "person": plant_worker.pk, "waiting": f"{batch.number} 3"}
    assert plant.post(url, sent).status_code == 204
    said = text(plant, reverse("the_day"))
    assert f"{batch.number} Pat Plant's tablet: 3 weights unsent, last seen " in said
    assert "A tablet that was not back since says nothing here." in said
    report = UnsentWeights.objects.get()
    assert plant.post(reverse("unsent_settle", args=[report.pk])).status_code == 302
    assert "tablet: 3 weights" not in text(plant, reverse("the_day"))


@pytest.mark.parametrize(
    "changed",
    [
        {"tablet": "ours"},
        {"person": ""},
        {"waiting": "B-2026-0001"},
        {"waiting": "B-2026-0001 -3"},
        {"waiting": "B-2026-0001 1000"},
        {"waiting": "\n".join(f"B-2026-{n:04d} 1" for n in range(31))},
    ],
)
def test_a_report_that_no_tablet_of_ours_makes_is_refused(plant, plant_worker, changed):
    sent = {"tablet": "c" * 32, "person": plant_worker.pk, "waiting": "", **changed}
    assert plant.post(reverse("unsent_report"), sent).status_code == 400


def test_another_persons_report_is_refused(plant, formulator):
    sent = {"tablet": "c" * 32, "person": formulator.pk, "waiting": ""}
    assert plant.post(reverse("unsent_report"), sent).status_code == 403
