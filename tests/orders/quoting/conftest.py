"""What quotes begin with: a priced blend, where it goes, for whom and by whom."""

from typing import Any

import pytest

from blendshop.accounts.models import Company, User
from orders.models import Package, Quote
from orders.quoting.actions import quotes as actions
from orders.quoting.draft_prices import DraftLine
from tests.orders.quoting.quote_cases import make_quotable


@pytest.fixture
def world(company: Company, rep: User) -> dict[str, Any]:
    """A saved ``revision``, its ``ship_to`` and ``company``, and the ``rep`` who quotes it."""
    revision, ship_to = make_quotable(company, rep)
    return {"revision": revision, "ship_to": ship_to, "company": company, "rep": rep}


@pytest.fixture
def draft(world: dict[str, Any]) -> Quote:
    """A draft of two totes with a note."""
    return actions.draft_quote(
        acting_user=world["rep"],
        company=world["company"],
        ship_to=world["ship_to"],
        lines=[DraftLine(revision=world["revision"], package=Package.objects.get(), quantity=2)],
        validity_days=30,
        notes="Deliver by the back gate.",
    )


@pytest.fixture
def sent(draft: Quote, rep: User) -> Quote:
    """The draft, sent to the customer."""
    actions.send_quote(quote=draft, acting_user=rep)
    return draft
