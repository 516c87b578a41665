"""The due date a quote names, and what it has become by the day somebody accepts.

The date is frozen when the quote is sent. Until it is answered others order, so it is asked again
before it is accepted: a later date is told, and counts once it was seen.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from django.utils.translation import gettext as _

from blendshop.errors import ChangedMeanwhile
from blendshop.figures.readers import house
from orders.models import Quote
from orders.planning.due_dates import read_due_dates
from orders.quoting.choices import choices_of


class LaterDate(ChangedMeanwhile):
    """Accepted now it is due later than the date that was seen."""


@dataclass(frozen=True, slots=True)
class OfferedDate:
    """``due_on`` is the quote's own date, in the house today's; None in quotes of before.

    ``later_on`` is set when accepting today means a later date than the quote's,
    ``wanted_too_soon_on`` when a draft's customer wants it before it can be made.
    """

    due_on: date | None
    later_on: date | None = None
    is_of_today: bool = False
    wanted_too_soon_on: date | None = None

    @property
    def if_accepted(self) -> date | None:
        """What whoever accepts is to have seen."""
        return self.later_on or self.due_on


def offered_date(quote: Quote, today: date) -> OfferedDate:
    """What the pages of a quote say about its date."""
    if quote.status in (Quote.Status.DRAFT, Quote.Status.AWAITING_APPROVAL):
        earliest = earliest_date(quote, today)
        wanted = quote.wanted_on or earliest
        return OfferedDate(
            max(earliest, wanted),
            is_of_today=True,
            wanted_too_soon_on=wanted if wanted < earliest else None,
        )
    if quote.status != Quote.Status.SENT or quote.valid_until < today:
        return OfferedDate(quote.due_on)
    then = due_if_accepted(quote, today)
    later = quote.due_on is None or then > quote.due_on
    return OfferedDate(quote.due_on, then if later else None)


def earliest_date(quote: Quote, today: date) -> date:
    """The earliest date that can be kept for the lines of a quote, ordered today.

    Where the customer still chooses it is one that can be kept for each of the choices.
    """
    due_dates = read_due_dates(today)
    if quote.is_choice_open:
        ways = [list(choice.lines) for choice in choices_of(quote)]
    else:
        ways = [list(quote.taken_lines().select_related("package"))]
    return max(due_dates.of_lines(lines).due_on for lines in ways)


def date_to_offer(quote: Quote, today: date) -> date:
    """The earliest date, or the later one that is wanted."""
    earliest = earliest_date(quote, today)
    return earliest if quote.wanted_on is None else max(earliest, quote.wanted_on)


def due_if_accepted(quote: Quote, today: date) -> date:
    """The date of the order if the quote is accepted today: the quote's, or a later one."""
    earliest = earliest_date(quote, today)
    return earliest if quote.due_on is None else max(quote.due_on, earliest)


def require_seen(quote: Quote, due_on: date, seen_due_on: date | None) -> None:
    """LaterDate when the order would be due after the date in the quote and the one seen."""
    known = [each for each in (quote.due_on, seen_due_on) if each is not None]
    if known and due_on > max(known):
        raise LaterDate(
            _(
                "Accepted today, {number} is due on {due_on}, later than {known}. Accept again to"
                " agree to the later date."
            ).format(
                number=quote.number,
                due_on=house().weekday(due_on),
                known=house().weekday(max(known)),
            )
        )
