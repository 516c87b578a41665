"""How the last repricing stands, for pages where costs are set, and who is told of new costs."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Final

from django.dispatch import Signal

from blendshop.long_work.models import LongWork
from formulas.catalogue_version.keeping import version
from formulas.models import Repricing
from formulas.repricing.wording import repriced_words

#: The kind of long work that prices everything anew.
KIND: Final = "repricing"
#: Sent with ``asked_by`` in the transaction that changes what stocks cost.
costs_changed: Final = Signal()


@dataclass(frozen=True, slots=True)
class RepricingStanding:
    """The last result, if there is one, and the work that is under way."""

    last: Repricing | None
    under_way: LongWork | None

    @property
    def words(self) -> str:
        """What the last one came to."""
        return "" if self.last is None else repriced_words(self.last)


def repricing_standing() -> RepricingStanding:
    """How it stands now, in two queries."""
    open_work = LongWork.objects.open().filter(kind=KIND).order_by("-pk")
    return RepricingStanding(last=Repricing.objects.first(), under_way=open_work.first())


def is_repriced(today: date) -> bool:
    """Whether the last repricing was at the costs of now."""
    last = Repricing.objects.select_related("state").first()
    return last is not None and (last.state.catalogue, last.state.day) == (version() or "", today)
