"""Figures for Prometheus, for who has the token."""

import re
import subprocess
import sys

import pytest
from django.test import Client, override_settings

from blendshop.monitoring import metrics
from formulas.contracts.formulation import trusted

TOKEN = "a-token-of-this-test-only-1234"


def figures(text):
    lines = [line for line in text.splitlines() if not line.startswith("#")]
    return {line.rpartition(" ")[0]: float(line.rpartition(" ")[2]) for line in lines}


def scrape(token=TOKEN):
    return Client().get("/metrics", headers={"Authorization": f"Bearer {token}"})


@pytest.fixture
def asked(monkeypatch):
    monkeypatch.setattr(metrics, "_ASKED", {})


def test_there_is_nothing_without_a_token():
    assert scrape("").status_code == 404
    with override_settings(METRICS_TOKEN=TOKEN):
        assert Client().get("/metrics").status_code == 404
        assert scrape("another").status_code == 404
        assert scrape("\u00e9").status_code == 404
        assert scrape().status_code == 200


@override_settings(METRICS_TOKEN=TOKEN)
def test_requests_are_counted_by_pattern_and_status(asked):
    name = 'blendshop_requests_total{method="GET",route="healthz",status="200"}'
    before = figures(scrape().content.decode()).get(name, 0)
    Client().get("/healthz")
    assert figures(scrape().content.decode())[name] == before + 1
    Client().generic("INVENTED", "/nowhere-at-all/")
    text = scrape().content.decode()
    assert "nowhere-at-all" not in text
    assert "INVENTED" not in text


@override_settings(METRICS_TOKEN=TOKEN)
def test_what_the_engine_takes_is_counted(asked):
    before = figures(scrape().content.decode())["blendshop_solve_seconds_count"]
    with trusted():
        pass
    assert figures(scrape().content.decode())["blendshop_solve_seconds_count"] == before + 1


@override_settings(METRICS_TOKEN=TOKEN)
def test_a_room_gives_its_figures_when_somebody_looks_and_one_that_fails_hides_none(asked):
    metrics.asked_when_scraped("queue", "Waiting.", lambda: {"mail": 3, "price": 0}, label="kind")
    metrics.asked_when_scraped("broken", "Never.", lambda: {"": 1 / 0})
    metrics.asked_when_scraped("plain", "One.", lambda: {"": 7})
    found = figures(scrape().content.decode())
    assert found['blendshop_queue{kind="mail"}'] == 3
    assert found['blendshop_queue{kind="price"}'] == 0
    assert found["blendshop_plain"] == 7
    assert found['blendshop_figure_failed{figure="broken"}'] == 1


def test_processes_add_up_what_they_count(tmp_path):
    count = (
        "import os; os.environ['DJANGO_SETTINGS_MODULE'] = 'tests.settings';"
        "from blendshop.monitoring import metrics;"
        "metrics.REQUESTS.labels('GET', 'x', '200').inc();"
        "print(metrics.scraped().decode())"
    )
    environment = {"PROMETHEUS_MULTIPROC_DIR": str(tmp_path), "PATH": "/usr/bin"}
    texts = [
        subprocess.run(
            [sys.executable, "-c", count], env=environment, capture_output=True, text=True
        ).stdout
        for _ in range(2)
    ]
    found = [re.search(r"blendshop_requests_total\{.*\} (\d)", text)[1] for text in texts]
    assert found == ["1", "2"]
