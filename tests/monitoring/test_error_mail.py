"""Errors by mail: from a thread, never in the way."""

import logging
import socket
from time import monotonic

import pytest
from django.core import mail

from blendshop.monitoring.error_mail import ErrorMailHandler


@pytest.fixture
def handler():
    handler = ErrorMailHandler(["watch@plant.example"])
    handler.setFormatter(logging.Formatter("%(message)s"))
    return handler


def error(handler, message, line=1):
    handler.handle(logging.LogRecord("x", logging.ERROR, "a.py", line, message, (), None))


def test_an_error_is_mailed_with_a_subject_of_one_line(handler, mailoutbox):
    error(handler, "A pump\nstopped")
    handler._waiting.join()
    (sent,) = mailoutbox
    assert sent.to == ["watch@plant.example"]
    assert sent.subject == "[Blendshop] A pump stopped"
    assert sent.body == "A pump\nstopped"


def test_the_same_place_is_mailed_once_another_too(handler, mailoutbox):
    for line in (1, 1, 2, 1):
        error(handler, f"in line {line}", line)
    handler._waiting.join()
    assert [each.body for each in mailoutbox] == ["in line 1", "in line 2"]


def test_the_place_of_an_exception_is_where_it_was_raised(handler, mailoutbox):
    def raised(divisor):
        try:
            return 1 / divisor
        except ZeroDivisionError as found:
            return (type(found), found, found.__traceback__)

    for line in (1, 2):  # Django reports every exception from one line of its own
        record = logging.LogRecord("x", logging.ERROR, "a.py", line, "zero", (), raised(0))
        handler.handle(record)
    handler._waiting.join()
    assert len(mailoutbox) == 1


def test_warnings_are_not_mailed(handler, mailoutbox):
    logger = logging.getLogger("blendshop.a_test")
    logger.addHandler(handler)
    try:
        logger.warning("only a warning")
        logger.error("an error")
    finally:
        logger.removeHandler(handler)
    handler._waiting.join()
    assert [each.body for each in mailoutbox] == ["an error"]


def test_a_mail_server_that_says_nothing_holds_nobody_and_the_rest_is_dropped(
    handler, settings, monkeypatch
):
    monkeypatch.setattr("blendshop.monitoring.error_mail._MAIL_SERVER_TIMEOUT_S", 0.2)
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    with socket.create_server(("127.0.0.1", 0)) as silent:
        settings.EMAIL_HOST, settings.EMAIL_PORT = silent.getsockname()
        begun = monotonic()
        for line in range(200):
            error(handler, "storm", line)
        assert monotonic() - begun < 0.2, "the thread that logs waited for the mail server"
        assert handler._waiting.qsize() <= 20
        while not handler._waiting.empty():
            handler._waiting.get_nowait()  # the rest need not run into the time-out one by one
            handler._waiting.task_done()
        handler._waiting.join()
    assert handler._thread.is_alive()
    assert mail.outbox == []
