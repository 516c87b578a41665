"""``kill -9`` of a live server between and during charges: none is lost, none counts twice."""

import contextlib
import json
import os
import random
import signal
import socket
import sqlite3
import subprocess
import sys
import threading
import time
import urllib.error
import urllib.parse
import urllib.request
import uuid
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.urls import reverse

from blendshop.accounts.models import User
from orders.models import Batch
from orders.production.steps import batch_steps
from tests.orders.production.charging_cases import lots_of

ROOT = Path(__file__).resolve().parents[2]
CSRF = "k" * 32
#: Each step of the batch is weighed in this many parts.
PARTS = 4


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


@dataclass
class Plant:
    """The database file, and the server process that is killed and started on it."""

    env: dict[str, str]
    told: dict[str, Any]
    port: int = field(default_factory=_free_port)
    program: subprocess.Popen[str] | None = None
    pid: int | None = None

    def start(self) -> None:
        if self.program is None:
            self.program = subprocess.Popen(
                [sys.executable, "-m", "tests.concurrency.killed_server", str(self.port)],
                cwd=ROOT,
                env=self.env,
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                text=True,
            )
        assert self.program.stdin is not None
        assert self.program.stdout is not None
        self.program.stdin.write("serve\n")
        self.program.stdin.flush()
        self.pid = int(self.program.stdout.readline())
        for _ in range(200):
            try:
                socket.create_connection(("127.0.0.1", self.port), timeout=1).close()
            except OSError:
                time.sleep(0.05)
            else:
                return
        raise AssertionError("The server did not start.")

    def kill(self) -> None:
        """What ``kill -9`` does: no handler, no last write."""
        if self.pid is not None:
            os.kill(self.pid, signal.SIGKILL)
            assert self.program is not None
            assert self.program.stdout is not None
            assert self.program.stdout.readline() == f"{-signal.SIGKILL}\n"
            self.pid = None

    def close(self) -> None:
        self.kill()
        if self.program is not None:
            self.program.communicate()

    def send(self, charge: dict[str, str]) -> dict[str, Any] | None:
        """The server's answer; None when it died before it gave one."""
        request = urllib.request.Request(
            f"http://127.0.0.1:{self.port}{self.told['url']}",
            data=urllib.parse.urlencode(charge).encode(),
            headers={
                "Accept": "application/json",
                "Cookie": f"sessionid={self.told['session']}; csrftoken={CSRF}",
                "X-CSRFToken": CSRF,
            },
        )
        try:
            with urllib.request.urlopen(request, timeout=20) as answer:  # noqa: S310 - loopback
                told: dict[str, Any] = json.load(answer)
                return told
        except urllib.error.HTTPError as error:
            raise AssertionError(error.read().decode()[:500]) from error
        except (OSError, json.JSONDecodeError):
            return None


@pytest.fixture
def plant(
    transactional_db: None, batch: Batch, plant_worker: User, client: Client, tmp_path: Path
) -> Iterator[Plant]:
    if connection.vendor != "sqlite":
        pytest.skip("the killed server has a database file of its own")
    lots = lots_of(batch, plant_worker)
    client.force_login(plant_worker)
    told = {
        "url": reverse("batch_charge", args=[batch.number]),
        "session": client.cookies["sessionid"].value,
        "person": plant_worker.pk,
        "steps": [
            {
                "step": step.number,
                "target": str(step.target_lb),
                "lot": lots[step.code].code if step.code in lots else "",
            }
            for step in batch_steps(batch)
        ],
    }
    path = tmp_path / "plant.sqlite3"
    with contextlib.closing(sqlite3.connect(path)) as copy:
        connection.connection.backup(copy)
        copy.execute("PRAGMA journal_mode=WAL")  # as a plant's file is from its first day on
    env = {
        **os.environ,
        "DATABASE_URL": f"sqlite:///{path}",
        "BLENDSHOP_DEBUG": "true",
        "BLENDSHOP_EMBEDDED_WORKER": "false",
    }
    plant = Plant(env, told)
    yield plant
    plant.close()


def _charges(told: dict[str, Any]) -> list[dict[str, str]]:
    """Every step in whole pounds, in several parts, each with the key its browser made."""
    charges = []
    for step in told["steps"]:
        target = int(float(step["target"]))
        parts = [target // PARTS] * (PARTS - 1)
        parts.append(target - sum(parts))
        charges += [
            {
                "key": uuid.uuid4().hex,
                "person": str(told["person"]),
                "step": str(step["step"]),
                "lot": step["lot"],
                "mass_lb": str(part),
                "charged_lb": str(sum(parts[:number])),  # what the screen shows is in
            }
            for number, part in enumerate(parts)
        ]
    return charges


@pytest.mark.one_database
def test_killing_the_server_between_and_during_charges_loses_none_and_doubles_none(
    plant: Plant, tmp_path: Path
) -> None:
    charges = _charges(plant.told)
    chance = random.Random(20260302)  # noqa: S311 - any moment will do
    killed_before, killed_during = {3, 9}, {5, 7, 12}
    unanswered = 0
    plant.start()
    for number, charge in enumerate(charges):
        if number in killed_before:
            plant.kill()
            plant.start()
        if number in killed_during:
            # The axe falls while this request is on its way: nobody knows whether it was saved.
            delay = chance.uniform(0.0, 0.08)
            axe = threading.Timer(delay, plant.kill)
            axe.start()
            answer = plant.send(charge)
            axe.join()
            plant.start()
            unanswered += answer is None
        # What a tablet does: again until it is answered, and once more for good measure.
        for _ in range(2):
            answer = plant.send(charge)
            assert answer is not None
            assert answer["saved"]
    assert unanswered, "No kill fell into a request; the test would prove nothing."
    plant.kill()

    stored = sqlite3.connect(tmp_path / "plant.sqlite3")
    keys = [row[0] for row in stored.execute("select key from orders_charge order by id")]
    assert keys == [charge["key"] for charge in charges]
    weighed = sum(int(charge["mass_lb"]) for charge in charges) * 1000
    assert stored.execute("select sum(mass_lb) from orders_charge").fetchone()[0] == weighed
    with_lot = sum(int(charge["mass_lb"]) for charge in charges if charge["lot"]) * 1000
    used = "select -sum(mass_lb), count(*) from orders_stockmovement where kind = 'used'"
    assert stored.execute(used).fetchone() == (
        with_lot,
        sum(bool(charge["lot"]) for charge in charges),
    )
    balances = stored.execute(
        "select l.on_hand_lb, sum(m.mass_lb) from orders_stocklot l"
        " join orders_stockmovement m on m.lot_id = l.id group by l.id"
    ).fetchall()
    assert balances
    assert all(on_hand == moved for on_hand, moved in balances)
    stored.close()
