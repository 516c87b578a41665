"""Mails as rows: posted with their cause, delivered, tried again, given up, sent again."""

import smtplib
from datetime import timedelta

import pytest
from django.core import mail as django_mail
from django.core.mail.backends.base import BaseEmailBackend
from django.db import transaction
from django.urls import reverse
from django.utils import timezone
from django_tasks_db.models import DBTaskResult

from blendshop.errors import IllegalMove
from blendshop.jobs.actions import beat
from blendshop.outbox import actions, attachments
from blendshop.outbox.actions import deliver_mail, deliver_overdue, post_mail, resend_mail
from blendshop.outbox.attachments import AttachedFile
from blendshop.outbox.models import Mail
from blendshop.outbox.standing import mails_about
from tests.jobs.queue_cases import run_due
from tests.outbox.mail_servers import closed_port, silent_server

__all__ = ["closed_port", "silent_server"]  # fixtures

pytestmark = pytest.mark.django_db


class RefusingBackend(BaseEmailBackend):
    """Answers as a mail server does; ``code`` says how."""

    code = 550

    def send_messages(self, messages):
        raise smtplib.SMTPRecipientsRefused({messages[0].to[0]: (self.code, b"no such person")})


class BusyBackend(RefusingBackend):
    code = 450


class BrokenBackend(BaseEmailBackend):
    """A fault nobody thought of."""

    def send_messages(self, messages):
        raise RuntimeError("a fault")


def one_mail(**more) -> Mail:
    (mail,) = post_mail(
        **{
            "to": ["dana@far.example"],
            "subject": "Hello",
            "text": "A line.",
            "about": ("quote", "Q-1"),
            **more,
        }
    )
    return mail


def later(mail: Mail) -> Mail:
    """The mail when its next try is due."""
    Mail.objects.filter(pk=mail.pk).update(next_try_at=timezone.now() - timedelta(seconds=1))
    mail.refresh_from_db()
    return mail


def test_a_mail_goes_out_after_the_commit_and_says_when(office) -> None:
    mail = one_mail(caused_by=office)
    assert not django_mail.outbox
    assert run_due() == 1
    (sent,) = django_mail.outbox
    assert (sent.to, sent.subject, sent.body) == ([mail.to], "Hello", "A line.")
    assert sent.extra_headers == {"Message-ID": mail.message_id}
    mail.refresh_from_db()
    assert (mail.state, mail.tries, mail.caused_by) == (Mail.State.SENT, 1, office)
    assert mail.sent_at is not None


def test_nobody_is_mailed_when_the_change_fails() -> None:
    with transaction.atomic():
        one_mail()
        transaction.set_rollback(True)
    assert run_due() == 0
    assert not Mail.objects.exists()


def test_each_address_has_a_mail_of_its_own() -> None:
    post_mail(to=["a@x.example", "b@x.example"], subject="S", text="T", about=("order", "O-1"))
    run_due()
    assert [mail.to for mail in django_mail.outbox] == [["a@x.example"], ["b@x.example"]]


def test_a_mail_that_is_sent_is_not_sent_again() -> None:
    mail = one_mail()
    assert deliver_mail.call(mail.pk) == "sent"
    assert deliver_mail.call(mail.pk) == ""
    assert deliver_overdue.call() == 0
    assert len(django_mail.outbox) == 1


def test_a_secret_is_forgotten_once_it_is_sent(settings) -> None:
    mail = one_mail(has_secret=True)
    settings.EMAIL_BACKEND = f"{__name__}.BusyBackend"
    deliver_mail.call(mail.pk)
    assert later(mail).text == "A line."
    settings.EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"
    deliver_mail.call(mail.pk)
    mail.refresh_from_db()
    assert mail.text == ""
    assert django_mail.outbox[0].body == "A line."


def test_a_server_that_is_not_there_is_tried_ever_later_then_given_up(closed_port) -> None:
    mail = one_mail()
    pauses = []
    for number in range(1, actions.MOST_TRIES + 1):
        before = timezone.now()
        deliver_mail.call(mail.pk)
        mail.refresh_from_db()
        assert mail.tries == number
        if mail.state == Mail.State.WAITING:
            assert deliver_mail.call(mail.pk) == "", "not before its time"
            pauses.append(round((mail.next_try_at - before) / timedelta(minutes=1)))
            later(mail)
    assert pauses == [1, 3, 9, 27, 81, 243, 729]
    assert mail.state == Mail.State.DEAD
    assert mail.last_error == "The mail server cannot be reached."
    assert deliver_overdue.call() == 0


def test_the_next_try_is_on_the_queue_at_its_time(closed_port, settings) -> None:
    mail = one_mail()
    assert run_due() == 1
    mail.refresh_from_db()
    (waiting,) = DBTaskResult.objects.filter(status="READY")
    assert waiting.run_after == mail.next_try_at


def test_a_server_in_trouble_is_not_asked_for_every_mail(silent_server) -> None:
    one_mail()
    one_mail(to=["second@far.example"])
    assert deliver_overdue.call() == 1
    assert len(silent_server) == 1
    assert list(Mail.objects.order_by("pk").values_list("tries", flat=True)) == [1, 0]


def test_a_server_that_says_nothing_costs_the_worker_its_time_out(silent_server) -> None:
    mail = one_mail()
    assert deliver_mail.call(mail.pk) == "waiting"
    mail.refresh_from_db()
    assert mail.last_error == "The mail server did not answer."
    assert len(silent_server) == 1


def test_an_address_refused_for_good_is_given_up_at_once(settings) -> None:
    settings.EMAIL_BACKEND = f"{__name__}.RefusingBackend"
    mail = one_mail()
    assert deliver_mail.call(mail.pk) == "dead"
    mail.refresh_from_db()
    assert mail.last_error == "The mail server refused the address: 550 no such person"
    settings.EMAIL_BACKEND = f"{__name__}.BusyBackend"
    assert deliver_mail.call(one_mail().pk) == "waiting"


def test_a_subject_that_is_none_is_given_up() -> None:
    assert deliver_mail.call(one_mail(subject="two\nlines").pk) == "dead"


def test_a_mail_that_a_worker_is_at_is_left_alone_until_its_claim_runs_out() -> None:
    mail = one_mail()
    soon = timezone.now() + timedelta(seconds=30)
    Mail.objects.filter(pk=mail.pk).update(claimed_until=soon, tries=1)
    assert deliver_mail.call(mail.pk) == ""
    assert deliver_overdue.call() == 0
    past = timezone.now() - timedelta(seconds=1)
    Mail.objects.filter(pk=mail.pk).update(claimed_until=past)
    assert deliver_overdue.call() == 1
    assert django_mail.outbox[0].extra_headers["Message-ID"] == mail.message_id


def test_a_mail_whose_sending_breaks_off_every_time_is_given_up(settings) -> None:
    settings.EMAIL_BACKEND = f"{__name__}.BrokenBackend"
    mail = one_mail()
    for _ in range(actions.MOST_TRIES):
        with pytest.raises(RuntimeError):
            deliver_mail.call(mail.pk)
        Mail.objects.update(claimed_until=timezone.now() - timedelta(seconds=1))
    assert deliver_overdue.call() == 0
    mail.refresh_from_db()
    assert (mail.state, mail.last_error) == (Mail.State.DEAD, "The sending broke off.")


def test_a_mail_given_up_is_sent_again_by_a_person_and_no_other_is(office, settings) -> None:
    settings.EMAIL_BACKEND = f"{__name__}.RefusingBackend"
    mail = one_mail()
    with pytest.raises(IllegalMove, match="not given up"):
        resend_mail(mail, acting_user=office)
    run_due()
    settings.EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"
    resend_mail(mail, acting_user=office)
    run_due()
    mail.refresh_from_db()
    assert (mail.state, mail.caused_by, mail.last_error) == ("sent", office, "")
    with pytest.raises(IllegalMove):
        resend_mail(mail, acting_user=office)


def test_a_page_names_a_missing_worker_only_while_a_mail_waits_for_it() -> None:
    mail = one_mail()
    assert not mails_about("quote", "Q-1").no_worker
    Mail.objects.update(next_try_at=timezone.now() - timedelta(minutes=3))
    assert mails_about("quote", "Q-1").no_worker
    beat("one")
    assert not mails_about("quote", "Q-1").no_worker
    deliver_mail.call(mail.pk)
    assert [each.state for each in mails_about("quote", "Q-1").mails] == ["sent"]
    assert not mails_about("quote", "Q-2").mails


@pytest.mark.parametrize("known", [True, False])
def test_a_forgotten_password_is_answered_alike_and_waits_for_no_server(
    client, rep, silent_server, known
) -> None:
    address = rep.email if known else "nobody@plant.example"
    answer = client.post(reverse("account_reset_password"), {"email": address}, follow=True)
    assert "If the address belongs to somebody here" in answer.content.decode()
    assert [mail.to for mail in Mail.objects.all()] == ([address] if known else [])
    assert silent_server == []
    if known:
        mail = Mail.objects.get()
        assert mail.has_secret
        assert (mail.about_kind, mail.about_key) == ("person", str(rep.pk))


def test_the_office_finds_every_mail_in_the_back_office_without_its_text(office, signed_in) -> None:
    mail = one_mail(about=("person", "7"), has_secret=True, text="the way in")
    client = signed_in(office)
    assert (
        "dana@far.example" in client.get(reverse("admin:outbox_mail_changelist")).content.decode()
    )
    page = client.get(reverse("admin:outbox_mail_change", args=[mail.pk])).content.decode()
    assert mail.message_id.strip("<>") in page
    assert "the way in" not in page


def test_a_mail_carries_the_file_it_names_and_tells_who_reads_the_answer(mailoutbox, monkeypatch):
    kept = {"7": AttachedFile("Q-1.pdf", b"%PDF", "application/pdf")}
    monkeypatch.setitem(attachments._READERS, "paper", kept.get)
    one_mail(attached=("paper", "7"), reply_to="rep@plant.example")
    gone = one_mail(attached=("paper", "8"))
    run_due()
    (letter,) = mailoutbox
    assert letter.attachments == [("Q-1.pdf", b"%PDF", "application/pdf")]
    assert letter.reply_to == ["rep@plant.example"]
    gone.refresh_from_db()
    assert (gone.state, gone.last_error) == ("dead", "The paper to go with it is not found.")
