"""A request's number: in the answer, on the page, in the API's errors and in the log."""

import json
import logging

import pytest
from django.core.exceptions import PermissionDenied, SuspiciousOperation
from django.http import HttpResponse
from django.test import Client, override_settings
from django.urls import path

import blendshop.urls
from blendshop.monitoring.request_number import known_person, request_number


def broken(request, secret=""):
    raise RuntimeError("a part is loose")


def forbidden(request):
    raise PermissionDenied


def not_understood(request):
    raise SuspiciousOperation("odd")


def told(request):
    return HttpResponse(f"{request_number()} {request.user.pk} {known_person()}")


handler404 = blendshop.urls.handler404
handler500 = blendshop.urls.handler500
urlpatterns = [
    path("broken/<str:secret>/", broken),
    path("api/v1/broken/", broken),
    path("forbidden/", forbidden),
    path("odd/", not_understood),
    path("told/", told),
    *blendshop.urls.urlpatterns,
]
pytestmark = pytest.mark.urls(__name__)


@pytest.fixture
def visitor(signed_in, rep):
    client = signed_in(rep)
    client.raise_request_exception = False
    return client


def test_every_answer_has_a_number_of_its_own():
    numbers = {Client().get(page)["X-Request-ID"] for page in ("/healthz", "/healthz", "/", "/x/")}
    assert len(numbers) == 4
    assert request_number() == ""


@pytest.mark.parametrize(
    ("page", "status"), [("/broken/x/", 500), ("/forbidden/", 403), ("/odd/", 400), ("/x/", 404)]
)
def test_error_pages_show_the_number(visitor, page, status):
    answer = visitor.get(page)
    assert answer.status_code == status
    assert answer["X-Request-ID"] in answer.content.decode()


@pytest.mark.parametrize(
    ("page", "status", "code"),
    [
        ("/api/v1/broken/", 500, "server_error"),
        ("/api/v1/nowhere/", 404, "not_found"),
        ("/api/v1/formulations/", 405, "method_not_allowed"),
    ],
)
def test_errors_of_the_api_carry_the_number(visitor, page, status, code):
    answer = visitor.get(page)
    assert answer.status_code == status
    assert answer.json()["code"] == code
    assert set(answer.json()) == {"code", "detail", "fields", "request"}
    assert answer.json()["request"] == answer["X-Request-ID"]


def test_a_visitor_does_not_choose_the_number():
    answer = Client().get("/healthz", headers={"X-Request-ID": "chosen-by-a-visitor"})
    assert answer["X-Request-ID"] != "chosen-by-a-visitor"


@override_settings(PROXY_NUMBERS_REQUESTS=True)
@pytest.mark.parametrize(
    ("given", "taken"),
    [
        ("5f2c9e0a-77aa-4d1b-9d43-7d7a5a8f3c11", True),
        ("a" * 64, True),
        ("a" * 65, False),
        ("short", False),
        ('12345678" level=error', False),
        ("12345678\u00e9", False),
        ("-starts-with-a-dash", False),
    ],
)
def test_a_proxys_number_is_taken_in_a_safe_shape_only(given, taken):
    answer = Client().get("/healthz", headers={"X-Request-ID": given})
    assert (answer["X-Request-ID"] == given) is taken


def test_the_log_costs_no_query_and_knows_who_was_asked_for(visitor, rep):
    number, signed_in, known = visitor.get("/told/").content.decode().split()
    assert number
    assert signed_in == known == str(rep.pk)


def test_the_log_says_what_came_of_a_request_under_its_pattern(visitor, caplog):
    with caplog.at_level(logging.INFO, "blendshop.requests"):
        answer = visitor.get("/broken/a-secret-link/")
    (line,) = [record for record in caplog.records if record.name == "blendshop.requests"]
    assert (line.method, line.route, line.status) == ("GET", "broken/<str:secret>/", 500)
    assert "a-secret-link" not in line.getMessage()
    assert answer.status_code == 500


def test_the_line_that_comes_after_the_answer_has_the_number_too(visitor, rep, json_lines):
    answer = visitor.get("/nowhere/")
    (line,) = [each for each in map(json.loads, json_lines()) if each["level"] == "warning"]
    assert line["message"] == "Not Found: /nowhere/"
    assert (line["request"], line["person"]) == (answer["X-Request-ID"], rep.pk)


def test_a_line_in_json_has_number_person_and_traceback(visitor, rep, json_lines):
    answer = visitor.get("/broken/x/")
    (line,) = [each for each in map(json.loads, json_lines()) if each["level"] == "error"]
    assert line["request"] == answer["X-Request-ID"]
    assert line["person"] == rep.pk
    assert line["message"] == "Internal Server Error: /broken/x/"
    assert "a part is loose" in line["exception"]
    assert line["time"].endswith("Z")
