"""The year's offers: each priced on the costs of its day, answered or not."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import Any, Final

from blendshop.accounts.models import User
from formulas.engine_bridge import Catalogue, load_catalogue
from formulas.models import BlendRevision
from orders.demo.year import calendar
from orders.demo.year.actions.costs import letters_of
from orders.demo.year.actions.dated import numbers, put_in
from orders.demo.year.actions.people import People, Place
from orders.demo.year.actions.quote_papers import issue_of_its_day
from orders.demo.year.blends import RATE
from orders.demo.year.quotes import VALID_DAYS, WITHDRAWN_BECAUSE, Ask, Fate
from orders.models import Quote, QuoteEvent, QuoteLine
from orders.quoting.deals import Deal
from orders.quoting.draft_prices import DraftLine, PricedDraft, line_figures, price_draft
from orders.quoting.links import quote_url

NOTE: Final = "Demo quote, invented."
#: Minutes from a draft to its mail, and after midnight at which it is answered.
_TO_SEND: Final = 35
_ANSWERED_AT: Final = 15 * 60
_EXPIRED_AT: Final = 2 * 60
Status = Quote.Status


@dataclass(frozen=True, slots=True)
class Offer:
    """An ask with its price; ``figures`` are the columns of its line. No quote for a reorder."""

    ask: Ask
    place: Place
    revision: BlendRevision
    draft: PricedDraft
    figures: Mapping[str, Any]
    quote: Quote | None = None


def priced(
    asks: Sequence[Ask], people: People, revisions: Mapping[str, BlendRevision], today: date
) -> list[Offer]:
    """Each ask at the price of its day."""
    catalogues: dict[date, Catalogue] = {}
    letters = letters_of(today)
    offers = []
    for ask in asks:
        letter = max(day for day in letters if day <= ask.day)
        if letter not in catalogues:
            catalogues[letter] = load_catalogue(letter, include_short=True)
        offers.append(_offer(ask, people, revisions[ask.blend], catalogues[letter]))
    return offers


def add_quotes(offers: Sequence[Offer], people: People, today: date) -> list[Offer]:
    """The same with their quotes, a paper for each that still waits for its answer."""
    offered = [offer for offer in offers if offer.ask.fate is not Fate.REORDERED]
    given = numbers("Q", (offer.ask.day for offer in offered))
    quotes = put_in(
        Quote,
        (_draft(offer, number, people) for offer, number in zip(offered, given, strict=True)),
    )
    put_in(
        QuoteLine,
        (_line(offer, quote) for offer, quote in zip(offered, quotes, strict=True)),
    )
    events: list[QuoteEvent] = []
    by_status: dict[Status, list[int]] = defaultdict(list)
    newest = offered[-1].ask.day
    for offer, quote in zip(offered, quotes, strict=True):
        status = _status(offer.ask, newest, today)
        by_status[status].append(quote.pk)
        events += _events(offer, quote, status, people)
        quote.status = status
    for status, ids in by_status.items():
        now = {"sent_at": None} if status == Status.DRAFT else {}
        Quote.objects.filter(pk__in=ids).update(status=status, **now)
    put_in(QuoteEvent, sorted(events, key=lambda event: event.at))
    for quote in quotes:
        if quote.status == Status.SENT:
            issue_of_its_day(quote, quote_url(quote))
    of_offer = {id(offer): quote for offer, quote in zip(offered, quotes, strict=True)}
    return [replace(offer, quote=of_offer.get(id(offer))) for offer in offers]


def _offer(ask: Ask, people: People, revision: BlendRevision, catalogue: Catalogue) -> Offer:
    place = people.places[ask.customer.name]
    deal = None if ask.off_pct is None else Deal(QuoteLine.Deal.OFF_PCT, ask.off_pct)
    line = DraftLine(
        revision=revision,
        package=place.package,
        quantity=ask.quantity,
        n_rate_lb_per_1000sqft=RATE[ask.blend],
        deal=None if ask.fate is Fate.REORDERED else deal,
    )
    draft = price_draft(
        [line], company=place.company, ship_to=place.ship_to, today=ask.day, catalogue=catalogue
    )
    figures = line_figures(revision, draft.requests[0], draft.price.lines[0])
    return Offer(ask, place, revision, draft, figures)


def _draft(offer: Offer, number: str, people: People) -> Quote:
    ask, price = offer.ask, offer.draft.price
    drafted = calendar.moment(ask.day, ask.minutes)
    decided: dict[str, Any] = {}
    if ask.answered is not None and ask.fate in (Fate.WON, Fate.DECLINED):
        decided = {
            "decided_at": calendar.moment(ask.answered, _ANSWERED_AT),
            "decided_by_name": str(offer.place.person),
            "decision_note": ask.reason,
        }
    return Quote(
        number=number,
        company=offer.place.company,
        ship_to=offer.place.ship_to,
        validity_days=VALID_DAYS,
        valid_until=ask.day + timedelta(days=VALID_DAYS),
        due_on=calendar.after(ask.day, ask.lead_days),
        notes=NOTE,
        created_by=people.reps[ask.customer.rep],
        created_at=drafted,
        sent_at=drafted + timedelta(minutes=_TO_SEND),
        priced_on=ask.day,
        total=price.total,
        deposit_total=price.deposit_total,
        needs_approval=bool(price.approval_reasons),
        approval_reason=" ".join(price.approval_reasons)[:400],
        **decided,
    )


def _line(offer: Offer, quote: Quote) -> QuoteLine:
    off = offer.ask.off_pct
    return QuoteLine(
        quote=quote,
        position=1,
        revision=offer.revision,
        package=offer.place.package,
        quantity=offer.ask.quantity,
        n_rate_lb_per_1000sqft=RATE[offer.ask.blend],
        deal="" if off is None else QuoteLine.Deal.OFF_PCT,
        deal_figure=off,
        **offer.figures,
    )


def _status(ask: Ask, newest: date, today: date) -> Quote.Status:
    if ask.answered is not None:
        return {
            Fate.WON: Status.ACCEPTED,
            Fate.DECLINED: Status.DECLINED,
            Fate.WITHDRAWN: Status.VOID,
        }[ask.fate]
    if ask.day == newest:
        return Status.DRAFT
    return Status.EXPIRED if ask.day + timedelta(days=VALID_DAYS) < today else Status.SENT


def _events(
    offer: Offer, quote: Quote, status: Quote.Status, people: People
) -> Iterator[QuoteEvent]:
    ask, rep = offer.ask, people.reps[offer.ask.customer.rep]
    data = {"total": str(quote.total), "deposit_total": str(quote.deposit_total)}

    def event(
        at: datetime, old: str, new: str, why: str, by: User | None, who: str = "", **more: Any
    ) -> QuoteEvent:
        return QuoteEvent(
            quote=quote, at=at, from_status=old, to_status=new, why=why, by=by,
            who=who or str(by), **more,
        )  # fmt: skip

    drafted, sent = quote.created_at, quote.sent_at or quote.created_at
    yield event(drafted, "", Status.DRAFT, "Drafted.", rep, data=data)
    if status == Status.DRAFT:
        return
    if quote.needs_approval:
        asked = drafted + timedelta(minutes=_TO_SEND - 20)
        waits, why = Status.AWAITING_APPROVAL, quote.approval_reason
        yield event(asked, Status.DRAFT, waits, why, rep, data=data)
        yield event(sent, waits, Status.SENT, "Approved.", people.office, data=data)
    else:
        yield event(sent, Status.DRAFT, Status.SENT, "", rep, data=data)
    if status == Status.EXPIRED:
        ended = calendar.moment(quote.valid_until + timedelta(days=1), _EXPIRED_AT)
        why = f"Valid until {quote.valid_until}."
        who = "the nightly expire_quotes command"
        yield event(ended, Status.SENT, status, why, None, who)
    elif status == Status.VOID and ask.answered is not None:
        ended = calendar.moment(ask.answered, _ANSWERED_AT)
        yield event(ended, Status.SENT, status, WITHDRAWN_BECAUSE, rep)
    elif quote.decided_at is not None:
        who = f"{quote.decided_by_name} (by the signed link)"
        yield event(quote.decided_at, Status.SENT, status, quote.decision_note, None, who)
