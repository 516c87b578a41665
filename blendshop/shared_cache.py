"""The cache of all processes as one table, with one statement for each read and write.

Django's own counts the whole table at every write, and reads a row before it writes it: four
statements where a limit of requests is checked on each one. Both our databases can do it in one.
"""

import base64
import pickle
import secrets
from collections.abc import Iterable
from datetime import UTC, datetime
from typing import Any, Final

from django.core.cache import caches
from django.core.cache.backends.base import DEFAULT_TIMEOUT
from django.core.cache.backends.db import DatabaseCache
from django.core.management import call_command
from django.db import connections, router

#: One write in so many throws away what has expired.
_CULLED_ONCE_IN: Final = 200
_NEVER: Final = datetime(9999, 12, 31, tzinfo=UTC)


class SharedTableCache(DatabaseCache):
    _table: str

    def get_many(self, keys: Iterable[Any], version: int | None = None) -> dict[Any, Any]:
        """Without throwing away what has expired: it may be a lock somebody took meanwhile."""
        asked = {self.make_and_validate_key(key, version=version): key for key in keys}
        if not asked:
            return {}
        connection = connections[router.db_for_read(self.cache_model_class)]
        table = connection.ops.quote_name(self._table)
        now = connection.ops.adapt_datetimefield_value(datetime.now(tz=UTC))
        places = ", ".join(["%s"] * len(asked))
        with connection.cursor() as cursor:
            cursor.execute(
                f"SELECT cache_key, value FROM {table} "  # noqa: S608 - our own name
                f"WHERE cache_key IN ({places}) AND expires > %s",
                [*asked, now],
            )
            return {
                asked[key]: pickle.loads(base64.b64decode(value))  # noqa: S301 - our own writing
                for key, value in cursor.fetchall()
            }

    def _base_set(
        self, mode: str, key: str, value: Any, timeout: float | None = DEFAULT_TIMEOUT
    ) -> bool:
        """``set`` always writes, ``add`` only where nothing is or what is has expired."""
        connection = connections[router.db_for_write(self.cache_model_class)]
        adapt = connection.ops.adapt_datetimefield_value
        end = self.get_backend_timeout(timeout)
        expires = adapt(_NEVER if end is None else datetime.fromtimestamp(end, tz=UTC))
        now = adapt(datetime.now(tz=UTC))
        table = connection.ops.quote_name(self._table)
        with connection.cursor() as cursor:
            if mode == "touch":
                cursor.execute(
                    f"UPDATE {table} SET expires = %s WHERE cache_key = %s AND expires > %s",  # noqa: S608
                    [expires, key, now],
                )
                return bool(cursor.rowcount)
            if secrets.randbelow(_CULLED_ONCE_IN) == 0:
                cursor.execute(f"DELETE FROM {table} WHERE expires < %s", [now])  # noqa: S608
            pickled = pickle.dumps(value, self.pickle_protocol)
            taken = f"WHERE {table}.expires <= %s" if mode == "add" else ""
            cursor.execute(
                f"INSERT INTO {table} (cache_key, value, expires) VALUES (%s, %s, %s) "  # noqa: S608
                "ON CONFLICT (cache_key) DO UPDATE "
                f"SET value = excluded.value, expires = excluded.expires {taken}",
                [key, base64.b64encode(pickled).decode("ascii"), expires]
                + ([now] if taken else []),
            )
            return bool(cursor.rowcount)


def make_table(*, using: str, **_signal: Any) -> None:
    """Make the table after ``migrate``, where the cache is one; again does nothing.

    Not a migration: who goes back from Redis to the database gets the table too. PostgreSQL keeps
    it out of its log: a limit that is counted waits for no disk, and after a crash it is empty.
    """
    cache = caches["default"]
    if not isinstance(cache, SharedTableCache):
        return
    connection = connections[using]
    if cache._table in connection.introspection.table_names():
        return
    call_command("createcachetable", database=using, verbosity=0)
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute(f"ALTER TABLE {connection.ops.quote_name(cache._table)} SET UNLOGGED")
