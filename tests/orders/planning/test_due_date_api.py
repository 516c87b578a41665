"""``due-dates``: what it refuses, and that nobody asks about a blend that is not theirs."""

import pytest

from orders.models import Tank

URL = "/api/v1/due-dates/"
TWO_TOTES = {"package": "tote-265", "quantity": 2, "recipe": [{"code": "UAN", "pct": 100}]}


def asked(client, *lines):
    return client.post(URL, {"lines": list(lines)}, content_type="application/json")


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"package": "barrel"}, "lines.0.package"),
        ({"quantity": 0}, "lines.0.quantity"),
        ({"recipe": [{"code": "NONE", "pct": 100}]}, "lines.0.recipe"),
        ({"recipe": []}, "lines.0.recipe"),
        ({"revision": 999_999, "recipe": None}, "lines.0.revision"),
        ({"color": "green"}, "lines.0.color"),
    ],
)
def test_a_wrong_line_is_named(shop, signed_in, rep, change, field):
    answer = asked(signed_in(rep), TWO_TOTES | change)
    assert answer.status_code == 400
    assert field in answer.json()["fields"]


def test_no_line_and_too_many_are_refused(shop, signed_in, rep):
    client = signed_in(rep)
    for lines in ((), (TWO_TOTES,) * 21):
        assert list(asked(client, *lines).json()["fields"]) == ["lines"]


def test_a_revision_of_another_company_is_not_there(revision, signed_in, customer, stranger):
    line = {"package": "tote-265", "quantity": 2, "revision": revision.pk}
    assert asked(signed_in(customer), line).status_code == 200
    assert asked(signed_in(stranger), line).json()["fields"].keys() == {"lines.0.revision"}


def test_the_answer_says_what_the_date_leaves_out(shop, signed_in, rep):
    found = asked(signed_in(rep), TWO_TOTES).json()
    assert found["due_on"] == max(found["released_on"], found["usual_on"])
    assert "time to buy stock is not counted" in found["not_counted"]


def test_more_packages_than_anybody_makes_are_refused_over_all_lines(shop, signed_in, rep):
    answer = asked(signed_in(rep), *(TWO_TOTES | {"quantity": 50_001},) * 2)
    assert list(answer.json()["fields"]) == ["lines"]


def test_without_a_tank_in_use_no_day_is_promised(shop, signed_in, rep):
    Tank.objects.update(active=False)
    answer = asked(signed_in(rep), TWO_TOTES)
    assert answer.status_code == 400
    assert "No blending tank is in use" in answer.content.decode()
