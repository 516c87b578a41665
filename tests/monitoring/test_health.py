"""Is the process alive, may it be sent requests: asked by machines that know no host name."""

import socket

import pytest
from django.db import ConnectionHandler, connection
from django.test import Client, override_settings

from blendshop import __version__
from blendshop.database_address import database
from blendshop.monitoring import readiness


@pytest.fixture(autouse=True)
def nothing_kept(monkeypatch):
    monkeypatch.setattr(readiness, "_last", None)


IN_PRODUCTION = override_settings(SECURE_SSL_REDIRECT=True, ALLOWED_HOSTS=["shop.example"])


@IN_PRODUCTION
def test_alive_touches_nothing_and_answers_under_any_name_without_tls():
    answer = Client(headers={"host": "10.0.0.7:8000"}).get("/healthz")
    assert (answer.status_code, answer.content) == (200, b"ok")
    # No database: this test has no mark for one, and a query would fail it.
    assert Client(headers={"host": "10.0.0.7"}).get("/healthz/").status_code == 400


@IN_PRODUCTION
@pytest.mark.parametrize("page", ["/", "/people/login/"])
def test_pages_still_go_to_https_and_know_their_host(page):
    assert Client(headers={"host": "shop.example"}).get(page).status_code == 301
    assert Client(headers={"host": "evil.example"}).get(page).status_code == 400


def test_probes_are_only_read():
    assert Client().post("/healthz").status_code == 405
    assert Client().head("/healthz").status_code == 200


@IN_PRODUCTION
def test_ready_says_so_with_the_version(db):
    answer = Client(headers={"host": "10.0.0.7"}).get("/readyz")
    assert answer.status_code == 200
    assert answer.json() == {"ready": True, "reasons": [], "version": __version__}


def test_a_database_that_is_away_is_told(db, monkeypatch):
    monkeypatch.setitem(connection.settings_dict, "NAME", "/no/such/folder/x")
    answer = Client().get("/readyz")
    assert answer.status_code == 503
    assert answer.json()["reasons"] == ["The database does not answer."]


def test_migrations_that_wait_are_named(db, monkeypatch):
    known = readiness._known_migrations() | {("orders", f"999{n}_new") for n in range(7)}
    monkeypatch.setattr(readiness, "_known_migrations", lambda: known)
    answer = Client().get("/readyz")
    assert answer.status_code == 503
    (reason,) = answer.json()["reasons"]
    assert reason.startswith("Migrations are not applied: orders.9990_new, orders.9991_new,")
    assert reason.endswith("orders.9994_new, …. Run manage.py migrate.")


def test_a_table_that_is_missing_is_named(db):
    table = {"BACKEND": "blendshop.shared_cache.SharedTableCache", "LOCATION": "not_made"}
    with override_settings(CACHES={"default": table}):
        answer = Client().get("/readyz")
    assert answer.status_code == 503
    assert answer.json()["reasons"] == ["Tables are missing: not_made."]


def test_a_cache_that_is_away_is_told(db):
    away = {
        "BACKEND": "django.core.cache.backends.redis.RedisCache",
        "LOCATION": "redis://127.0.0.1:1/0",
    }
    with override_settings(CACHES={"default": away}):
        assert Client().get("/readyz").json()["reasons"] == ["The shared cache does not answer."]


def test_an_answer_is_kept_for_a_moment(db, django_assert_num_queries, monkeypatch):
    Client().get("/readyz")
    monkeypatch.setattr(readiness, "_reasons", lambda: iter(["asked again"]))
    assert Client().get("/readyz").status_code == 200
    at, reasons = readiness._last
    monkeypatch.setattr(readiness, "_last", (at - 60, reasons))
    assert Client().get("/readyz").json()["reasons"] == ["asked again"]


def test_a_database_server_that_says_nothing_is_given_up(db, monkeypatch):
    with socket.create_server(("127.0.0.1", 0)) as silent:
        port = silent.getsockname()[1]
        address = f"postgres://nobody@127.0.0.1:{port}/x"
        handler = ConnectionHandler({"default": database(address, pool=8, debug=False)})
        monkeypatch.setattr(readiness, "connection", handler["default"])
        answer = Client().get("/readyz")
    assert answer.json()["reasons"] == ["The database does not answer."]


@pytest.mark.parametrize("address", ["/healthz", "/readyz", "/metrics"])
def test_what_machines_ask_shows_nothing_a_browser_may_run_or_keep(db, address):
    answer = Client().get(address)
    assert answer["Content-Security-Policy"] == "default-src 'none'; frame-ancestors 'none'"
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert answer["Cache-Control"] == "no-store"
