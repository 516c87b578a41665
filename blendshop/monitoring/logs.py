"""The log: one line an event, as text or as JSON, with the request's number and the person's key.

What the log says of an error goes by mail too, if somebody is named for it.
"""

from collections.abc import Sequence
from typing import Any, Final

import structlog
from django.http import HttpRequest
from structlog.typing import EventDict, Processor, WrappedLogger

from blendshop.monitoring.request_number import known_person, request_number

#: What ``RequestMiddleware`` says of a request, each a key of its line.
REQUEST_FIGURES: Final = ("method", "route", "status", "milliseconds")


def _whose(_logger: WrappedLogger, _method: str, event: EventDict) -> EventDict:
    # Django's own lines bring their request; they may come when it is answered.
    request = getattr(event["_record"], "request", None)
    if not isinstance(request, HttpRequest):
        request = None
    if number := request_number(request):
        event["request"] = number
    if (person := known_person(request)) is not None:
        event["person"] = person
    return event


def _formatter(*renderers: Processor) -> dict[str, Any]:
    return {
        "()": structlog.stdlib.ProcessorFormatter,
        "foreign_pre_chain": [
            structlog.stdlib.add_log_level,
            structlog.stdlib.add_logger_name,
            structlog.stdlib.ExtraAdder(allow=REQUEST_FIGURES),
            structlog.processors.TimeStamper(fmt="iso", utc=True, key="time"),
            _whose,
        ],
        "processors": [structlog.stdlib.ProcessorFormatter.remove_processors_meta, *renderers],
    }


def _forms() -> dict[str, Any]:
    # Plain tracebacks in both: the library's own show the values of variables.
    return {
        "text": _formatter(
            structlog.dev.ConsoleRenderer(
                colors=False,
                timestamp_key="time",
                pad_event_to=0,
                pad_level=False,
                exception_formatter=structlog.dev.plain_traceback,
            )
        ),
        "json": _formatter(
            structlog.processors.format_exc_info,
            structlog.processors.EventRenamer("message"),
            structlog.processors.JSONRenderer(),
        ),
    }


def logging_setting(*, level: int | None, form: str | None, errors_to: Sequence[str] | None) -> Any:
    """Django's ``LOGGING``; ``form`` is text or json, ``errors_to`` mail addresses.

    None stands for what could not be read, and is refused elsewhere.
    """
    handlers: dict[str, Any] = {
        "console": {"class": "logging.StreamHandler", "formatter": form or "text"}
    }
    if errors_to:
        handlers["mail"] = {
            "()": "blendshop.outbox.error_mail.ErrorMailHandler",
            "to": errors_to,
            "formatter": "text",
        }
    return {
        "version": 1,
        "disable_existing_loggers": False,
        "formatters": _forms(),
        "handlers": handlers,
        "root": {"handlers": list(handlers), "level": level},
        # Without Django's own handlers, which would print and mail what the root does already.
        "loggers": {"django": {"handlers": [], "level": level}},
    }
