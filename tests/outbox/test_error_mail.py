"""Errors become mails in the outbox: seldom, counted, never in the way of what went wrong."""

import logging
from threading import Event
from time import monotonic

import pytest
from django.core import mail as django_mail
from django.core.cache import cache
from django.db import OperationalError

from blendshop.outbox import error_mail
from blendshop.outbox.error_mail import ErrorMailHandler, SeenError, post_error
from blendshop.outbox.models import Mail
from tests.jobs.queue_cases import run_due

TO = ["watch@plant.example"]


@pytest.fixture
def told(monkeypatch):
    """What the handler's thread hands over, without a database."""
    found = []
    monkeypatch.setattr(error_mail, "post_error", lambda error, to: found.append((error, to)))
    return found


@pytest.fixture
def handler():
    handler = ErrorMailHandler(TO)
    handler.setFormatter(logging.Formatter("%(message)s"))
    return handler


@pytest.fixture
def counted_anew(db):
    cache.clear()


def log(handler, message, line=1, raised=None):
    handler.handle(logging.LogRecord("x", logging.ERROR, "a.py", line, message, (), raised))


def texts(told):
    return [(error.text, error.unsaid) for error, _to in told]


def test_an_error_is_handed_over_with_a_subject_of_one_line(handler, told):
    log(handler, "A pump\nstopped")
    handler._waiting.join()
    ((error, to),) = told
    assert (error.subject, error.text) == ("[Blendshop] A pump stopped", "A pump\nstopped")
    assert to == TO


def test_the_same_place_is_told_once_in_a_while_and_counted(handler, told, monkeypatch):
    for line in (1, 1, 2, 1):
        log(handler, f"in line {line}", line)
    handler._waiting.join()
    monkeypatch.setattr(error_mail, "monotonic", lambda: monotonic() + error_mail.AGAIN_AFTER_S)
    log(handler, "again", 1)
    handler._waiting.join()
    assert texts(told) == [("in line 1", 0), ("in line 2", 0), ("again", 2)]


def test_what_a_visitor_tries_is_nobodys_mail(handler, told):
    name = "django.security.DisallowedHost"
    handler.handle(logging.LogRecord(name, logging.ERROR, "a.py", 1, "wrong host", (), None))
    log(handler, "ours")
    handler._waiting.join()
    assert texts(told) == [("ours", 0)]


def test_the_place_of_an_exception_is_where_it_was_raised(handler, told):
    def raised(divisor):
        try:
            return 1 / divisor
        except ZeroDivisionError as found:
            return (type(found), found, found.__traceback__)

    for line in (1, 2):  # Django reports every exception from one line of its own
        log(handler, "zero", line, raised(0))
    handler._waiting.join()
    assert len(told) == 1


def test_where_the_database_is_away_only_the_log_has_it(handler, monkeypatch, caplog):
    tried = []

    def away(error, to):
        tried.append(error)
        logging.getLogger("blendshop.a_test").error("the pool has no connection")
        raise OperationalError("no connection")

    monkeypatch.setattr(error_mail, "post_error", away)
    logger = logging.getLogger("blendshop.a_test")
    logger.addHandler(handler)
    try:
        log(handler, "storm")
        handler._waiting.join()
    finally:
        logger.removeHandler(handler)
    assert [error.text for error in tried] == ["storm"], "an error of mailing errors is mailed"
    assert handler._thread.is_alive()
    (line,) = [each for each in caplog.records if "could not be mailed" in each.message]
    assert (line.levelno, "storm" in line.message) == (logging.WARNING, True)


def test_whoever_logs_waits_for_nobody_and_what_is_too_much_is_dropped(handler, monkeypatch):
    go_on = Event()
    monkeypatch.setattr(error_mail, "post_error", lambda error, to: go_on.wait(30))
    begun = monotonic()
    for line in range(200):
        log(handler, "storm", line)
    assert monotonic() - begun < 5
    assert handler._waiting.qsize() <= 20
    go_on.set()
    handler._waiting.join()


def test_it_goes_out_by_the_worker_and_its_text_is_forgotten(counted_anew):
    assert post_error(SeenError("a.py:1", "[Blendshop] zero", "Traceback"), TO)
    assert django_mail.outbox == []
    assert run_due() == 1
    (sent,) = django_mail.outbox
    assert (sent.to, sent.subject) == (TO, "[Blendshop] zero")
    assert "Traceback" in sent.body
    assert Mail.objects.get().text == ""


def test_another_process_counts_what_is_told_already(counted_anew):
    error = SeenError("a.py:1", "zero", "Traceback", unsaid=3)
    assert post_error(SeenError("a.py:1", "zero", "Traceback"), TO)
    assert not post_error(error, TO)
    assert not post_error(error, TO)
    cache.delete(f"error-told:{Mail.objects.get().about_key}")
    assert post_error(SeenError("a.py:1", "zero", "Traceback"), TO)
    assert "happened 8 times more" in Mail.objects.last().text


def test_many_places_are_not_many_mails(counted_anew, monkeypatch):
    monkeypatch.setattr(error_mail, "MOST_AN_HOUR", 2)
    assert [post_error(SeenError(f"a.py:{n}", "x", "x"), TO) for n in range(3)] == [
        True, True, False,
    ]  # fmt: skip
