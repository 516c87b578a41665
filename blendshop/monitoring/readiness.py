"""May this process be sent requests? Looked at through a connection of its own, in bounded time."""

import logging
from collections.abc import Iterator
from contextlib import contextmanager
from functools import lru_cache
from threading import Lock
from time import monotonic
from typing import Final

from django.conf import settings
from django.core.cache import caches
from django.core.cache.backends.db import BaseDatabaseCache
from django.db import Error, connection
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.recorder import MigrationRecorder

_log = logging.getLogger(__name__)
_KEPT_S: Final = 3.0
_TIMEOUT_S: Final = 2
_MOST_NAMED: Final = 5
_lock: Final = Lock()
_last: tuple[float, tuple[str, ...]] | None = None


def reasons_not_ready() -> tuple[str, ...]:
    """Why no request should be sent here, a sentence each; empty if all is well.

    An answer is kept for three seconds, and while one asks the others wait for the same answer, so
    that a database that hangs holds one thread at a time.
    """
    global _last
    with _lock:
        if _last is None or monotonic() - _last[0] > _KEPT_S:
            _last = (monotonic(), tuple(_reasons()))
        return _last[1]


def _reasons() -> Iterator[str]:
    try:
        with _probe() as probe:
            applied = set(MigrationRecorder(probe).applied_migrations())
            tables = set(probe.introspection.table_names())
    except Error:
        _log.warning("The database did not answer", exc_info=True)
        yield "The database does not answer."
        return
    if waiting := sorted(_known_migrations() - applied):
        named = ", ".join(f"{app}.{name}" for app, name in waiting[:_MOST_NAMED])
        more = ", …" if len(waiting) > _MOST_NAMED else ""
        yield f"Migrations are not applied: {named}{more}. Run manage.py migrate."
    elif missing := sorted(_known_tables() - tables):
        yield f"Tables are missing: {', '.join(missing)}."
    if not _cache_answers():
        yield "The shared cache does not answer."


@contextmanager
def _probe() -> Iterator[BaseDatabaseWrapper]:
    """A connection outside the pool, which waits ten seconds, that gives up after two."""
    probe = connection.copy()
    options = probe.settings_dict["OPTIONS"]
    if probe.vendor == "postgresql":
        options.pop("pool", None)
        options |= {"connect_timeout": _TIMEOUT_S, "tcp_user_timeout": _TIMEOUT_S * 1000}
        given = options.get("options", "")
        options["options"] = f"{given} -c statement_timeout={_TIMEOUT_S * 1000}".strip()
    else:
        options["timeout"] = _TIMEOUT_S
    try:
        yield probe
    finally:
        probe.close()


@lru_cache(maxsize=1)
def _known_migrations() -> frozenset[tuple[str, str]]:
    """Those of the code, which does not change while the process lives."""
    return frozenset(MigrationLoader(None).graph.nodes)


def _known_tables() -> set[str]:
    tables = set(connection.introspection.django_table_names())
    if isinstance(caches["default"], BaseDatabaseCache):
        tables.add(settings.CACHES["default"]["LOCATION"])
    return tables


def _cache_answers() -> bool:
    cache = caches["default"]
    if isinstance(cache, BaseDatabaseCache):
        return True  # its table was looked for
    try:
        cache.get("ready")
    except Exception:  # noqa: BLE001 - each backend has errors of its own
        _log.warning("The shared cache did not answer", exc_info=True)
        return False
    return True
