"""Figures of more orders than a page adds up, and of more rows than a page reads."""

from datetime import date
from typing import Any

import pytest
from django.urls import reverse

from blendshop.accounts.models import User
from orders.year_figures import figures_work, views
from tests.factories import CompanyFactory
from tests.jobs.queue_cases import run_due
from tests.orders.year_figures.year_cases import file_of, quoted, revision_of, shipped

pytestmark = pytest.mark.django_db

SPRING = {"period": "days", "first": "2026-03-01", "last": "2026-05-31"}
CUSTOMERS = ("Ödland Turf", "alder Turf", "Birch Turf", "Cedar Turf")


@pytest.fixture
def sold(office: User) -> None:
    blend = revision_of("Spring", office)
    for number, name in enumerate(CUSTOMERS, 1):
        company = CompanyFactory(name=name)
        price, earned = f"{100 * number}", f"{20 if number == 3 else 10 * number}"
        on = date(2026, 3 + number % 3, 10)
        asked = quoted(f"Q-{number}", company, office, on, status="accepted", answered_on=on)
        shipped(f"O-{number}", company, [(blend, price, earned)], on, quote=asked)


def told(page: bytes) -> str:
    """The table of a page alone."""
    text = page.decode()
    return text[text.index("<tbody>") : text.index("</tbody>")]


@pytest.mark.usefixtures("sold")
def test_a_worker_adds_up_and_draws_what_is_too_long(
    office: User, rep: User, signed_in: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    client = signed_in(office)
    asked = [SPRING | {"question": "costs", "by": by} for by in ("customer", "month", "each")]
    at_once = [told(client.get("/figures/", each).content) for each in asked]
    file_at_once = client.get("/figures.csv", SPRING | {"by": "each"}).content
    monkeypatch.setattr(figures_work, "MOST_ORDERS_AT_ONCE", 3)
    monkeypatch.setattr(views, "MOST_ROWS_AT_ONCE", 3)
    for each, expected in zip(asked, at_once, strict=True):
        page = client.get("/figures/", each)
        assert "4 orders were counted in this period." in page.text
        assert "<tbody>" not in page.text
        work = client.post("/figures/", query_params=each).url
        run_due()
        assert "Add up again" in client.get(work, follow=True).text
        assert told(client.get("/figures/", each).content) == expected
    narrow = SPRING | {"question": "costs", "state": "MD", "first": "2026-04-01"}
    assert "<tbody>" in client.get("/figures/", narrow).text
    long = SPRING | {"by": "each"}
    assert "The file has 4 rows." in client.get("/figures.csv", long).text
    work = client.post("/figures.csv", query_params=long).url
    run_due()
    made = client.get(f"{work}download/").content
    assert made.decode("utf-8-sig").count("\n") == 5
    assert [row[:-16] for row in made.splitlines()] == [
        row[:-16] for row in file_at_once.splitlines()
    ]
    assert signed_in(rep).get(work).status_code == 404
    assert client.get(reverse("work_list")).status_code == 200


@pytest.mark.usefixtures("sold")
def test_the_database_sorts_as_a_person_reads(office: User, signed_in: Any) -> None:
    """By name whatever the case; the same margin by name; what has no figure last either way."""
    client = signed_in(office)

    def names(sort: str, **more: str) -> list[str]:
        return [row["Customer"] for row in file_of(client, **SPRING, sort=sort, **more)]

    alder, birch, cedar, oedland = "alder Turf", "Birch Turf", "Cedar Turf", "Ödland Turf"
    assert names("label") == [alder, birch, cedar, oedland]
    assert names("-label") == [oedland, cedar, birch, alder]
    # 20 of 300 is the least; 10 of 100, 20 of 200 and 40 of 400 are the same.
    assert names("margin_pct") == [birch, alder, cedar, oedland]
    assert names("-margin_pct") == [alder, cedar, oedland, birch]
    assert names("-price") == [cedar, birch, alder, oedland]
    quoted("Q-9", CompanyFactory(name="Zinnia Turf"), office, date(2026, 3, 1), status="sent")
    assert names("won_pct", question="quotes")[-1] == "Zinnia Turf"
    assert names("-won_pct", question="quotes")[-1] == "Zinnia Turf"
    page = client.get("/figures/", SPRING | {"page": "2", "sort": "label"})
    assert alder in page.text  # there is one page alone
