"""The table all processes count in: one statement a write, nothing expired is seen or kept."""

import time

import pytest
from django.core.cache import caches
from django.db import connection
from django.test import override_settings

from blendshop import shared_cache

TABLE = {
    "BACKEND": "blendshop.shared_cache.SharedTableCache",
    "LOCATION": "blendshop_cache",
}


@pytest.fixture
def cache(db):
    with override_settings(CACHES={"default": TABLE}):
        shared_cache.make_table(using="default")
        yield caches["default"]


def rows():
    with connection.cursor() as cursor:
        cursor.execute("SELECT count(*) FROM blendshop_cache")
        return cursor.fetchone()[0]


def test_the_table_is_made_once_and_only_for_a_table(cache):
    shared_cache.make_table(using="default")
    cache.set("kept", 1)
    shared_cache.make_table(using="default")
    assert cache.get("kept") == 1


def test_no_table_where_the_cache_is_something_else(db):
    shared_cache.make_table(using="default")
    assert "blendshop_cache" not in connection.introspection.table_names()


def test_a_read_and_a_write_are_one_statement_each(cache, django_assert_num_queries, monkeypatch):
    monkeypatch.setattr(shared_cache.secrets, "randbelow", lambda _: 1)
    with django_assert_num_queries(2):
        cache.set("a", {"b": [1.5, None]})
        assert cache.get("a") == {"b": [1.5, None]}
    with django_assert_num_queries(2):
        assert cache.add("a", 2) is False
        assert cache.get_many(["a", "none"]) == {"a": {"b": [1.5, None]}}
    with django_assert_num_queries(0):
        assert cache.get_many([]) == {}


def test_add_takes_what_has_expired_and_nothing_else(cache):
    assert cache.add("lock", "first", 60) is True
    assert cache.add("lock", "second", 60) is False
    cache.set("lock", "first", -1)
    assert cache.get("lock") is None
    assert cache.add("lock", "second", 60) is True
    assert cache.get("lock") == "second"


def test_touch_moves_the_end_of_what_is_there(cache):
    cache.set("a", 1, 0.5)
    assert cache.touch("a", 60) is True
    time.sleep(0.6)
    assert cache.get("a") == 1
    assert cache.touch("none", 60) is False


def test_none_never_expires_and_what_is_deleted_is_gone(cache):
    cache.set("a", 1, None)
    assert cache.get("a") == 1
    assert cache.delete("a") is True
    assert cache.get("a") is None


def test_expired_rows_are_thrown_away_now_and_then(cache, monkeypatch):
    for number in range(5):
        cache.set(f"old{number}", 1, -1)
    monkeypatch.setattr(shared_cache.secrets, "randbelow", lambda _: 1)
    cache.set("new", 1)
    assert rows() == 6
    monkeypatch.setattr(shared_cache.secrets, "randbelow", lambda _: 0)
    cache.set("new", 1)
    assert rows() == 1
