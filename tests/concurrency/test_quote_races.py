"""The same press twice at once, each on a connection of its own: one draft, one saved blend."""

import pytest

from formulas.blends.actions import save_blend
from formulas.models import BlendRevision
from orders.models import Package, Quote
from orders.quoting.actions.quotes import draft_quote
from orders.quoting.draft_prices import DraftLine
from tests.concurrency.test_ledger_races import in_threads
from tests.factories import today
from tests.orders.quoting.quote_cases import make_quotable

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def lot(company, rep):
    """Named as what the shared database waits for: what the presses begin with."""
    return make_quotable(company, rep)


def test_two_equal_presses_at_once_make_one_draft_and_save_one_blend(
    lot, company, rep, shared_database
):
    revision, ship_to = lot
    line = DraftLine(revision=revision, package=Package.objects.get(), quantity=1)

    def draft():
        return draft_quote(
            acting_user=rep,
            company=company,
            ship_to=ship_to,
            lines=[line],
            validity_days=30,
            once_key="the same form",
        ).number

    def save():
        return save_blend(
            acting_user=rep,
            name="Twice",
            company=company,
            wish={"targets": [{"nutrient": "N", "min": 16}]},
            today=today(),
            once_key="the same form",
        ).pk

    first, second = in_threads(draft, draft)
    assert first == second, (first, second)
    saved, again = in_threads(save, save)
    assert saved == again, (saved, again)
    [(drafts, blends)] = in_threads(
        lambda: (Quote.objects.count(), BlendRevision.objects.filter(blend__name="Twice").count())
    )
    assert (drafts, blends) == (1, 1)
