"""What the pages of a recall show."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from typing import Any

from blendshop.accounts.models import User
from blendshop.roles import RECALLERS, has_role
from orders.inventory.holds import hold_words_by_batch
from orders.models import Recall, ToldOfRecall
from orders.recall.actions import CALLERS, JUDGES, reached
from orders.recall.affected import AffectedCustomer
from orders.recall.forms import CustomerWordsForm
from orders.records.forms import ReasonForm


@dataclass(frozen=True, slots=True)
class CustomerRow:
    """A customer and who told it; nobody yet when ``told`` is empty."""

    customer: AffectedCustomer
    told: tuple[ToldOfRecall, ...]


def recall_page(recall: Recall, user: User) -> dict[str, Any]:
    """In a number of queries that no number of packages or customers changes."""
    found = reached(recall)
    told: dict[int, list[ToldOfRecall]] = defaultdict(list)
    for row in ToldOfRecall.objects.filter(customer__recall=recall).select_related("customer"):
        told[row.customer.company_id].append(row)
    rows = [CustomerRow(each, tuple(told[each.company.pk])) for each in found.customers]
    return {
        "recall": recall,
        "found": found,
        "rows": sorted(rows, key=lambda row: bool(row.told)),  # open ones first, then by name
        "open_count": sum(not row.told for row in rows),
        "holds": hold_words_by_batch(found.batch_ids),
        "events": recall.events.all(),
        "words_form": CustomerWordsForm(
            initial={"customer_reason": recall.customer_reason}, auto_id="words_%s"
        ),
        "free_form": ReasonForm(auto_id="free_%s"),
        "close_form": ReasonForm(auto_id="close_%s"),
        "may_recall": has_role(user, *RECALLERS),
        "may_judge": has_role(user, *JUDGES),
        "may_tell": has_role(user, *CALLERS),
        "is_holding": recall.held_at is not None and recall.freed_at is None,
    }
