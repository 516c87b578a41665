"""Pages of long work: progress, reload, without script, what others may see."""

from datetime import timedelta
from pathlib import Path

import pytest
from django.urls import reverse
from django.utils import timezone

from blendshop.jobs.models import WorkerBeat
from blendshop.jobs.worker import run_next
from blendshop.long_work.actions.beginning import begin
from blendshop.long_work.models import LongWork
from tests.jobs.queue_cases import run_due

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def media(settings, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = tmp_path


def page_of(work: LongWork) -> str:
    return reverse("work_detail", args=[work.pk])


def test_the_page_says_how_far_it_is_and_asks_again_with_and_without_script(
    known_kind, office, signed_in
):
    work = begin(known_kind(), asked_by=office, arguments={}, parts=3)
    client = signed_in(office)
    assert "It waits for its turn." in client.get(page_of(work)).content.decode()
    run_next("w")
    text = client.get(page_of(work)).content.decode()
    assert "1 of 3 parts are done." in text
    assert 'max="3" value="1"' in text
    assert '<noscript><meta http-equiv="refresh" content="3"></noscript>' in text
    assert "hx-get" in text


def test_the_page_is_told_only_what_is_new(known_kind, office, signed_in):
    work = begin(known_kind(), asked_by=office, arguments={}, parts=3)
    run_next("w")
    client, url = signed_in(office), reverse("work_progress", args=[work.pk])
    news = client.get(url, {"seen": "waiting-0-0"}).content.decode()
    assert "1 of 3 parts are done." in news
    same = client.get(url, {"seen": "working-1-0"}).content.decode()
    assert "parts" not in same
    assert "hx-get" in same
    run_due()
    assert client.get(url).headers["HX-Redirect"] == page_of(work)


def test_the_longer_it_takes_the_rarer_it_is_asked(known_kind, office, signed_in):
    work = begin(known_kind(), asked_by=office, arguments={}, parts=3)
    client, url = signed_in(office), reverse("work_progress", args=[work.pk])
    pauses = []
    for seconds in (0, 10, 60, 600, 3_600):
        LongWork.objects.update(asked_at=timezone.now() - timedelta(seconds=seconds))
        pauses.append(client.get(url).context["progress"].ask_again_ms)
    assert pauses == [500, 1_000, 2_000, 5_000, 0]


def test_the_page_says_when_nobody_works(known_kind, office, signed_in):
    work = begin(known_kind(), asked_by=office, arguments={})
    client = signed_in(office)
    words = "No background worker is running"
    assert words not in client.get(page_of(work)).content.decode()
    LongWork.objects.update(asked_at=timezone.now() - timedelta(seconds=20))
    assert words in client.get(page_of(work)).content.decode()
    WorkerBeat.objects.create(name="alive")
    assert words not in client.get(page_of(work)).content.decode()


def test_done_work_leads_on_or_gives_its_file(known_kind, office, signed_in):
    client = signed_in(office)
    work = begin(known_kind(), asked_by=office, arguments={}, parts=2)
    run_due()
    assert "5 in all." in client.get(page_of(work)).content.decode()
    saved = client.get(reverse("work_download", args=[work.pk]))
    assert saved.content == b"square\r\n"
    assert saved.headers["Content-Disposition"] == 'attachment; filename="squares.csv"'
    known_kind(leads_to=lambda work: f"/sums/{work.result['sum']}/")
    assert client.get(page_of(work)).headers["Location"] == "/sums/5/"


def test_what_went_wrong_says_so_and_is_tried_again(known_kind, office, signed_in):
    client = signed_in(office)
    work = begin(known_kind(), asked_by=office, arguments={"refused": 1})
    run_due()
    assert "Line 3: the pounds are missing." in client.get(page_of(work)).content.decode()
    client.post(reverse("work_again", args=[work.pk]))
    work.refresh_from_db()
    assert work.state == LongWork.State.WAITING
    client.post(reverse("work_call_off", args=[work.pk]))
    assert "Called off by Ollie Office" in client.get(page_of(work)).content.decode()


@pytest.mark.parametrize("is_shared", [True, False])
def test_others_see_only_what_is_shared_with_their_role(
    is_shared, known_kind, office, formulator, plant_worker, customer, signed_in
):
    work = begin(known_kind(is_shared=is_shared), asked_by=office, arguments={})
    run_due()
    seen = {}
    for person in (office, formulator, plant_worker, customer):
        answers = {
            signed_in(person).get(reverse(name, args=[work.pk])).status_code
            for name in ("work_detail", "work_progress", "work_download")
        }
        answers.add(signed_in(person).post(reverse("work_again", args=[work.pk])).status_code)
        listed = signed_in(person).get(reverse("work_list")).content.decode()
        seen[person] = (answers, page_of(work) in listed)
    own = ({200, 409}, True)
    assert seen[office] == own
    assert seen[formulator] == (own if is_shared else ({404}, False))
    assert seen[plant_worker] == seen[customer] == ({404}, False)
