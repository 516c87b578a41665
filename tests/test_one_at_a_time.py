"""One computation of a person at a time, over processes; what died frees its place by its end."""

import time
from contextlib import ExitStack

import pytest
from django.core.cache import cache
from django.http import HttpResponse
from django.test import Client, RequestFactory

from blendshop.accounts.models import User
from blendshop.one_at_a_time import StillComputing, one_at_a_time, one_computation


@pytest.fixture(autouse=True)
def _empty_cache():
    cache.clear()
    yield
    cache.clear()


def test_a_second_one_waits_for_the_first_and_another_person_does_not():
    with one_computation(1):
        with pytest.raises(StillComputing), one_computation(1):
            pass
        with one_computation(2):
            pass
    with one_computation(1):
        pass


def test_one_that_failed_frees_its_place():
    with pytest.raises(ZeroDivisionError), one_computation(1):
        raise ZeroDivisionError
    with one_computation(1):
        pass


def test_one_that_died_frees_its_place_by_its_end(settings, monkeypatch):
    settings.REQUEST_SECONDS, now = 1, time.time()
    dead = one_computation(1)
    dead.__enter__()  # and nothing after it, like a process that was killed
    with pytest.raises(StillComputing), one_computation(1):
        pass
    monkeypatch.setattr(time, "time", lambda: now + 10)
    with one_computation(1):
        pass


def test_one_that_outlived_its_place_leaves_the_next_ones_alone():
    with one_computation(1):
        cache.set("computing:1", "the next one's")
    with pytest.raises(StillComputing), one_computation(1):
        pass


def test_a_page_waits_its_turn_and_then_says_so(rep: User, settings):
    settings.REQUEST_SECONDS = 1
    request = RequestFactory().get("/blend/", {"N_min": "24"})
    request.user = rep
    view = one_at_a_time(lambda _: HttpResponse("answer"))
    with one_computation(rep.pk), pytest.raises(StillComputing):
        view(request)
    assert view(request).content == b"answer"


def test_the_api_says_when_to_ask_again(client: Client, rep: User):
    client.force_login(rep)
    with one_computation(rep.pk):
        answer = client.post("/api/v1/formulations/", "{}", content_type="application/json")
    assert answer.status_code == 429
    assert answer["Retry-After"] == "2"
    assert answer.json()["code"] == "still_computing"


def test_some_threads_of_a_process_stay_free_whatever_is_asked(settings):
    with ExitStack() as asked:
        for person in range(settings.COMPUTATIONS_AT_ONCE):
            asked.enter_context(one_computation(person))
        with pytest.raises(StillComputing), one_computation(99):
            pass
    with one_computation(99):
        pass
