"""The server as its instructions start it: no mail server and no large question silences it."""

import http.client
import json
import os
import random
import secrets
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import suppress
from pathlib import Path
from typing import Any, Final

import pytest
from django.db import connection
from django.test import override_settings
from rest_framework.authtoken.models import Token

from blendshop.outbox.models import Mail
from blendshop.roles import Role
from blendshop.shared_cache import make_table
from tests.factories import UserFactory

pytestmark = [
    pytest.mark.postgres,
    pytest.mark.skipif(connection.vendor != "postgresql", reason="as a plant runs it"),
    pytest.mark.django_db(transaction=True),
]

ROOT: Final = Path(__file__).resolve().parents[2]
HOST: Final = "blendshop.example"
#: Seconds a health check may take on a machine that has nothing else to do.
SOON: Final = 2.0
RESETS, QUESTIONS = 16, 12
SHARED: Final = {
    "BACKEND": "blendshop.shared_cache.SharedTableCache",
    "LOCATION": "blendshop_cache",
}
OTHERS: Final = ("P2O5", "K2O", "S", "Ca", "Mg", "Fe", "Mn", "Zn", "Cu", "B", "Mo")
KEYS: Final = ("N.urea", "N.ammoniacal", "N.nitrate", "N.slow", *OTHERS)
WISHED: Final = ("N", *OTHERS)


@pytest.fixture
def silent_port() -> Iterator[tuple[int, list[socket.socket]]]:
    """A mail server that takes connections and says nothing."""
    taken: list[socket.socket] = []
    server = socket.create_server(("127.0.0.1", 0))

    def take() -> None:
        with suppress(OSError):
            while True:
                taken.append(server.accept()[0])

    thread = threading.Thread(target=take, daemon=True)
    thread.start()
    yield server.getsockname()[1], taken
    server.shutdown(socket.SHUT_RDWR)
    server.close()
    thread.join(10)
    for accepted in taken:
        accepted.close()


def _environment(mail_port: int) -> dict[str, str]:
    known = connection.get_connection_params()
    person = ":".join(filter(None, (known.get("user"), known.get("password"))))
    place = f"{known['host']}:{known.get('port') or 5432}"
    return {
        "PATH": os.environ["PATH"],
        "DATABASE_URL": f"postgres://{person}@{place}/{connection.settings_dict['NAME']}",
        "BLENDSHOP_SECRET_KEY": secrets.token_urlsafe(60),
        "BLENDSHOP_ALLOWED_HOSTS": HOST,
        "BLENDSHOP_SITE_URL": f"https://{HOST}",
        "BLENDSHOP_EMAIL_HOST": "127.0.0.1",
        "BLENDSHOP_EMAIL_PORT": str(mail_port),
        "BLENDSHOP_EMAIL_TIMEOUT": "3",
    }


@pytest.fixture
def port(silent_port: tuple[int, list[socket.socket]]) -> Iterator[int]:
    """Where gunicorn answers, with one worker of the queue beside it."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
    with override_settings(CACHES={"default": SHARED}):  # the suite itself counts in memory
        make_table(using="default")
    gunicorn = ("-m", "gunicorn", "blendshop.wsgi", "--config", "blendshop/deploy/gunicorn_conf.py")
    commands = ((*gunicorn, "--bind", f"127.0.0.1:{port}"), ("manage.py", "run_worker"))
    quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
    environment = _environment(silent_port[0])
    running = [
        subprocess.Popen([sys.executable, *command], cwd=ROOT, env=environment, **quiet)
        for command in commands
    ]
    try:
        _wait_until(lambda: _answers(port))
        yield port
    finally:
        for process in running:
            process.terminate()
        for process in running:
            process.wait(timeout=60)


def _wait_until(true: Callable[[], object]) -> None:
    last = time.monotonic() + 120
    while not true():
        assert time.monotonic() < last
        time.sleep(0.1)


def _answers(port: int) -> bool:
    with suppress(OSError):
        return ask(port, "GET", "/healthz") == 200
    return False


def ask(
    port: int,
    method: str,
    path: str,
    body: str | None = None,
    headers: Mapping[str, str] | None = None,
    *,
    within: float = SOON,
) -> int:
    """The status of an answer, asked as the proxy asks; OSError if there is none in time."""
    proxied = {"Host": HOST, "X-Forwarded-Proto": "https", "X-Forwarded-For": "192.0.2.7"}
    asked = http.client.HTTPConnection("127.0.0.1", port, timeout=within)
    try:
        asked.request(method, path, body, {**proxied, **(headers or {})})
        return asked.getresponse().status
    finally:
        asked.close()


def _largest_question(number: int) -> dict[str, Any]:
    """About as much as one request may bring: stocks, rules, wishes, choices."""
    drawn = random.Random(number)  # noqa: S311 - any figures will do
    traits = [f"t{at}" for at in range(20)]
    stocks = [
        {
            "code": f"S{at}",
            "density_lb_per_gal": round(drawn.uniform(8.4, 11.5), 2),
            "cost_per_lb": f"{drawn.uniform(0.02, 0.9):.4f}",
            "analysis": {
                key: round(drawn.uniform(0.5, 9), 2)
                for key in drawn.sample(KEYS, drawn.randint(1, 4))
            },
            "traits": drawn.sample(traits, drawn.randint(1, 4)),
        }
        for at in range(59)
    ]
    water = {"code": "WATER", "density_lb_per_gal": 8.34, "cost_per_lb": "0", "traits": ["water"]}
    rules = [
        {"trait_a": a, "trait_b": b, "effect": "blocks"}
        for a, b in (drawn.sample(traits, 2) for _ in range(26))
    ]
    return {
        "stocks": [*stocks, water],
        "rules": rules,
        "targets": [{"nutrient": key, "min": round(drawn.uniform(0.2, 1.6), 2)} for key in WISHED],
        "slow_release_pct": {"min": 20},
        "smallest_charge_pct": 2,
        "most_stocks": 10,
        "fill": {"volume_gal": 265},
    }


def test_health_answers_beside_a_silent_mail_server_and_the_largest_questions(
    port: int, silent_port: tuple[int, list[socket.socket]]
) -> None:
    people = [UserFactory(role=Role.CUSTOMER) for _ in range(RESETS)]
    keys = [Token.objects.create(user=UserFactory(role=Role.REP)).key for _ in range(QUESTIONS)]
    csrf = "k" * 32
    form = {
        "Content-Type": "application/x-www-form-urlencoded",
        "Cookie": f"__Host-csrftoken={csrf}",
        "X-CSRFToken": csrf,
        "Referer": f"https://{HOST}/people/password/reset/",
    }
    statuses: dict[str, int] = {}

    def reset(email: str) -> None:
        path = "/people/password/reset/"
        statuses[email] = ask(port, "POST", path, f"email={email}", form, within=60)

    def formulate(number: int, key: str) -> None:
        headers = {"Content-Type": "application/json", "Authorization": f"Token {key}"}
        body = json.dumps(_largest_question(number))
        statuses[key] = ask(port, "POST", "/api/v1/formulations/", body, headers, within=60)

    asking = [threading.Thread(target=reset, args=[person.email]) for person in people]
    asking += [threading.Thread(target=formulate, args=each) for each in enumerate(keys)]
    soon = SOON * (1 + os.getloadavg()[0] / (os.cpu_count() or 1))  # others wait for it too
    for thread in asking:
        thread.start()
    checks = 0
    while checks < 10 or any(thread.is_alive() for thread in asking):
        assert ask(port, "GET", "/healthz", within=soon) == 200
        checks += 1
        time.sleep(0.1)
    assert {statuses[person.email] for person in people} == {302}
    assert {statuses[key] for key in keys} <= {200, 422, 429}
    written = set(Mail.objects.values_list("to", flat=True))
    assert written >= {person.email for person in people}
    _wait_until(lambda: silent_port[1])  # the worker has tried
    assert not Mail.objects.filter(state=Mail.State.SENT).exists()
