"""Told once, not of one's own action, as each has chosen; the bell and its page."""

import re

import pytest
from django.contrib.auth.models import Group
from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from blendshop.errors import BadInput
from blendshop.notices.actions import KEEP_READ, Cause, choose, people_of, tell
from blendshop.notices.kinds import Kind, kinds_for, register
from blendshop.notices.models import How, Notice
from blendshop.notices.tasks import mail_notices_of_the_day, tidy_notices
from blendshop.outbox.actions import mails_kept_back
from blendshop.outbox.models import Mail
from blendshop.roles import Role
from tests.factories import UserFactory

pytestmark = pytest.mark.django_db

HELD = register(
    Kind(
        "test_held",
        "A test batch held",
        frozenset({Role.PLANT, Role.OFFICE}),
        {Role.OFFICE: How.MAIL},
    )
)
SHORT = register(
    Kind(
        "test_short",
        "A test stock short",
        frozenset({Role.PLANT}),
        many="{count} stocks are short: {names}",
        many_link="stock_levels",
    )
)


def cause(key, text="B-1 is held."):
    return Cause(key=key, name=key, text=text, link="/batches/", about=("batch", key))


def tell_held(key="B-1", *, by=None, **more):
    tell(HELD, people_of(Role.PLANT, Role.OFFICE), cause(key), by=by, **more)


def texts(person):
    return list(person.notices.order_by("pk").values_list("text", flat=True))


def bell(client, page="/notices/"):
    html = client.get(page).content.decode()
    return re.search(r'aria-label="Notices: (\d+) unread"', html)


def test_each_person_is_told_once_and_nobody_of_the_own_action(plant_worker, office, rep):
    other = UserFactory(role=Role.PLANT)
    gone = UserFactory(role=Role.PLANT, is_active=False)
    other.groups.add(Group.objects.get(name=Role.OFFICE.value))  # two roles, one notice
    for _again in range(2):
        tell_held(by=plant_worker)
    told = Notice.objects.order_by("person").values_list("person", flat=True)
    assert sorted(told) == sorted([office.pk, other.pk])
    assert texts(plant_worker) == texts(rep) == texts(gone) == []
    with mails_kept_back():
        tell_held("B-2")
    assert texts(office) == ["B-1 is held."]


def test_what_is_told_goes_with_its_transaction(plant_worker):
    with transaction.atomic():
        tell_held()
        assert Notice.objects.exists()
        transaction.set_rollback(True)
    assert not Notice.objects.exists()


@pytest.mark.parametrize(
    ("how", "notices", "at_once", "in_daily"),
    [
        (How.NOT, 0, 0, 0),
        (How.PAGE, 1, 0, 0),
        (How.DAILY, 1, 0, 1),
        (How.MAIL, 1, 1, 0),
        (None, 1, 1, 0),  # as is usual for the office
    ],
)
def test_everybody_is_told_as_chosen(office, how, notices, at_once, in_daily):
    if how:
        choose(person=office, choices={HELD.name: how})
    tell_held()
    assert office.notices.count() == notices
    assert Mail.objects.count() == at_once
    assert mail_notices_of_the_day.call() == in_daily
    assert mail_notices_of_the_day.call() == 0
    assert Mail.objects.count() == at_once + in_daily
    for mail in Mail.objects.all():
        assert mail.to == office.email
        assert "B-1 is held." in mail.text
        assert "http://127.0.0.1:8000/batches/" in mail.text
        assert reverse("notice_choices") in mail.text


def test_the_daily_mail_leaves_out_what_was_read(plant_worker):
    choose(person=plant_worker, choices={HELD.name: How.DAILY})
    tell_held("B-1")
    Notice.objects.update(read_at=timezone.now())
    assert mail_notices_of_the_day.call() == 0
    assert not Notice.objects.filter(waits_for_daily=True).exists()


def test_unread_notices_of_the_same_fold_into_one_with_their_number(plant_worker):
    def short(*codes):
        causes = [cause(code, f"{code} is short.") for code in codes]
        tell(SHORT, people_of(Role.PLANT), *causes, by=None)

    short("UAN")
    assert texts(plant_worker) == ["UAN is short."]
    short("UAN", "KCL", "APP")
    assert texts(plant_worker) == ["3 stocks are short: UAN, KCL, APP"]
    assert plant_worker.notices.get().link == reverse("stock_levels")
    Notice.objects.update(read_at=timezone.now())
    short("UAN", "MAP")
    assert texts(plant_worker)[1:] == ["MAP is short."]


def test_the_bell_counts_what_is_unread_in_one_query_and_opening_reads(
    plant_worker, office, signed_in
):
    client = signed_in(plant_worker)
    for key in ("B-1", "B-2", "B-3"):
        tell_held(key)
    assert bell(client, "/batches/").group(1) == "3"
    first, second, third = plant_worker.notices.order_by("pk")
    opened = client.get(reverse("notice_open", args=[first.pk]))
    assert opened.url == "/batches/"
    assert bell(client).group(1) == "2"
    client.post(reverse("notices_read"), {"pk": second.pk})
    assert bell(client).group(1) == "1"
    theirs = office.notices.order_by("pk")[0]
    assert client.get(reverse("notice_open", args=[theirs.pk])).status_code == 404
    client.post(reverse("notices_read"), {"pk": theirs.pk})
    assert office.notices.unread().count() == 3
    page = client.get(reverse("notice_list"))
    assert [notice for notice, _title in page.context["rows"]] == [third, second, first]
    tell_held("B-4")  # comes in after the page was drawn
    client.post(reverse("notices_read"), {"up_to": page.context["up_to"]})
    assert bell(client).group(1) == "1"
    with CaptureQueriesContext(connection) as queries:
        client.get("/batches/")
    assert sum("notices_notice" in query["sql"] for query in queries) == 1


def test_the_page_is_filtered_paged_and_asks_no_more_for_more(plant_worker, signed_in):
    client = signed_in(plant_worker)
    counts = []
    for size in (3, 60):
        for number in range(size):
            tell_held(f"B-{size}-{number}")
        with CaptureQueriesContext(connection) as queries:
            page = client.get(reverse("notice_list"), {"kind": HELD.name})
        counts.append(len(queries))
    assert counts[0] == counts[1]
    assert page.context["page"].paginator.num_pages == 3
    assert client.get(reverse("notice_list"), {"kind": SHORT.name}).context["rows"] == []


def test_a_person_chooses_among_the_kinds_of_its_own_work(plant_worker, rep, signed_in):
    client = signed_in(plant_worker)
    fields = client.get(reverse("notice_choices")).context["form"].fields
    own = {kind.name for kind in kinds_for(frozenset({Role.PLANT}))}
    assert set(fields) == own
    assert {HELD.name, "batch_held"} <= own
    sent = dict.fromkeys(own, "page") | {HELD.name: "not"}
    assert client.post(reverse("notice_choices"), sent).status_code == 302
    tell_held()
    assert texts(plant_worker) == []
    with pytest.raises(BadInput):
        choose(person=rep, choices={HELD.name: How.PAGE})
    assert client.post(reverse("notice_choices"), {**sent, HELD.name: "loud"}).status_code == 400


def test_what_was_read_long_ago_is_forgotten(plant_worker):
    tell_held("B-1")
    tell_held("B-2")
    old = plant_worker.notices.order_by("pk")[0]
    Notice.objects.filter(pk=old.pk).update(read_at=timezone.now() - KEEP_READ * 2)
    assert tidy_notices.call() == 1
    assert texts(plant_worker) == ["B-1 is held."]
