"""Quotes: drafted, repriced, approved, sent, withdrawn, expired, accepted or declined."""

from collections.abc import Sequence
from datetime import date, timedelta
from decimal import Decimal
from typing import Any, Final

from django.conf import settings
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from blendshop.accounts.models import Company, User
from blendshop.errors import BadInput, ChangedMeanwhile, IllegalMove
from blendshop.figures.readers import house
from blendshop.roles import Role, require_role
from formulas.engine_bridge import Catalogue, exact
from orders.models import Order, Quote, QuoteLine, ShipTo
from orders.ordering.actions import ORDER_PREFIX, create_order_from_quote
from orders.planning.actions.promises import promise_of_default_load
from orders.planning.load_question import load_recipe
from orders.quoting.actions.paper import issue_quote_paper
from orders.quoting.actions.refusals import (
    WRITES_QUOTES,
    require_awaiting,
    require_choice,
    require_day_to_come,
    require_draft,
    require_fitting,
    require_may_answer,
    why_closed,
)
from orders.quoting.choices import Choice, choices_of
from orders.quoting.draft_prices import (
    DraftLine,
    approval_reasons,
    draft_lines_of,
    line_figures,
    price_draft,
)
from orders.quoting.line_strip import StripLine, line_stops
from orders.quoting.links import quote_url
from orders.quoting.mail import (
    mail_author,
    mail_author_and_office,
    mail_customer,
    mail_offer,
    mail_office,
)
from orders.quoting.offered_date import date_to_offer, due_if_accepted, require_seen
from orders.records.letterhead import require_profile
from orders.records.moves import move, note, require_move
from orders.records.numbering import hold_series, next_number

QUOTE_PREFIX: Final = "Q"
Status = Quote.Status


def draft_quote(
    *,
    acting_user: User,
    company: Company,
    ship_to: ShipTo,
    lines: Sequence[DraftLine],
    validity_days: int,
    notes: str = "",
    mailed_to: Sequence[str] = (),
    payment_terms: str = "",
    wanted_on: date | None = None,
    replaces: Quote | None = None,
    catalogue: Catalogue | None = None,
) -> Quote:
    """A new draft, priced with today's costs, or those of another ``catalogue``.

    ``mailed_to`` are addresses it is mailed to beside the customer's people, ``payment_terms``
    those of this quote alone, ``wanted_on`` the day the customer asks for. Once sent it takes the
    place of the quote it ``replaces``.
    """
    require_role(acting_user, *WRITES_QUOTES)
    require_fitting(company, ship_to, lines, validity_days)
    today = timezone.localdate()
    require_day_to_come(wanted_on, today)
    with transaction.atomic():
        quote = Quote.objects.create(
            number=next_number(QUOTE_PREFIX),
            company=company,
            ship_to=ship_to,
            validity_days=validity_days,
            valid_until=today + timedelta(days=validity_days),
            notes=notes,
            mailed_to=list(mailed_to),
            payment_terms=payment_terms.strip(),
            wanted_on=wanted_on,
            replaces=replaces,
            created_by=acting_user,
        )
        _write_lines(quote, lines, today, catalogue)
        why = f"Drafted as the next version of {replaces.number}." if replaces else "Drafted."
        note(quote, acting_user=acting_user, why=why, new=True, data=_totals(quote))
    return quote


def change_draft(
    *,
    quote: Quote,
    acting_user: User,
    company: Company,
    ship_to: ShipTo,
    lines: Sequence[DraftLine],
    validity_days: int,
    notes: str = "",
    mailed_to: Sequence[str] = (),
    payment_terms: str = "",
    wanted_on: date | None = None,
    seen_event: int | None = None,
) -> None:
    """Replace what a draft asks for and price it with today's costs.

    ``seen_event`` is the newest event when the draft was read; ChangedMeanwhile if there is a
    newer one, so that nobody overwrites a colleague's change unread.
    """
    require_role(acting_user, *WRITES_QUOTES)
    require_draft(quote)
    require_fitting(company, ship_to, lines, validity_days)
    today = timezone.localdate()
    require_day_to_come(wanted_on, today)
    with transaction.atomic():
        _set(
            quote,
            company=company,
            ship_to=ship_to,
            validity_days=validity_days,
            valid_until=today + timedelta(days=validity_days),
            notes=notes,
            mailed_to=list(mailed_to),
            payment_terms=payment_terms.strip(),
            wanted_on=wanted_on,
        )
        if seen_event is not None and seen_event != quote.events.order_by("-pk")[0].pk:
            raise ChangedMeanwhile(
                _("Somebody else changed {number} meanwhile; look again.").format(
                    number=quote.number
                )
            )
        _write_lines(quote, lines, today)
        note(quote, acting_user=acting_user, why="Changed.", data=_totals(quote))


def reprice_draft(
    *, quote: Quote, acting_user: User, catalogue: Catalogue | None = None
) -> Decimal:
    """Price a draft with today's costs, or those of another ``catalogue``.

    Returns by how much the total rose (or fell, below 0).
    """
    require_role(acting_user, *WRITES_QUOTES)
    require_draft(quote)
    before = quote.total
    with transaction.atomic():
        _reprice(quote, catalogue)
        rise = quote.total - before
        if rise:
            note(quote, acting_user=acting_user, why="Repriced.", data=_totals(quote))
    return rise


def submit_quote(
    *,
    quote: Quote,
    acting_user: User,
    seen_total: Decimal | None = None,
    seen_choices: Sequence[Decimal] = (),
) -> None:
    """Ask the office to approve a draft below the floor, or with a line that something stops.

    The figures stand from here on: what the office approves is what is sent.
    """
    require_role(acting_user, *WRITES_QUOTES)
    require_move(quote, Status.AWAITING_APPROVAL)
    with transaction.atomic():
        changed = _reprice_or_note_change(quote, acting_user, seen_total, seen_choices)
        if not changed:
            if not quote.needs_approval:
                raise IllegalMove(
                    _("{number} needs no approval; send it.").format(number=quote.number)
                )
            reason = quote.approval_reason
            move(quote, Status.AWAITING_APPROVAL, acting_user=acting_user, why=reason)
            mail_office(
                quote,
                "orders/quoting/mail/quote_awaiting_approval.txt",
                _("Quote {number} waits for your approval"),
                acting_user,
            )
    if changed:
        raise ChangedMeanwhile(changed)


def send_quote(
    *,
    quote: Quote,
    acting_user: User,
    seen_total: Decimal | None = None,
    seen_choices: Sequence[Decimal] = (),
) -> list[str]:
    """Send a draft: price it with the costs of this minute, freeze it, issue its paper, mail it.

    Returns the addresses it will be mailed to.

    With ``seen_total``, a price that has moved since it was shown is saved to the draft and
    ChangedMeanwhile raised, so that nobody sends a figure nobody has read; where the customer
    chooses, ``seen_choices`` are the totals of all choices that were shown.
    """
    require_role(acting_user, *WRITES_QUOTES)
    require_draft(quote)
    with transaction.atomic():
        changed = _reprice_or_note_change(quote, acting_user, seen_total, seen_choices)
        if not changed:
            if quote.needs_approval:
                raise IllegalMove(
                    _("{number} cannot be sent before the office approves it. {reason}").format(
                        number=quote.number, reason=quote.approval_reason
                    )
                )
            return _send(quote, acting_user, why="")
    raise ChangedMeanwhile(changed)


def approve_quote(*, quote: Quote, acting_user: User, why: str = "") -> None:
    """The office agrees to a price below the floor; the quote goes out as it was submitted."""
    require_role(acting_user, Role.OFFICE)
    require_awaiting(quote)
    with transaction.atomic():
        _send(quote, acting_user, why=why or "Approved.")
        mail_author(
            quote,
            "orders/quoting/mail/quote_approved.txt",
            _("Quote {number} is approved and sent"),
            acting_user,
            why=why,
        )


def send_back(*, quote: Quote, acting_user: User, why: str) -> None:
    """The office does not agree; the quote is a draft again."""
    require_role(acting_user, Role.OFFICE)
    require_move(quote, Status.DRAFT)
    if not why.strip():
        raise BadInput(_("Say what should change."), fields={"why": _("Give a reason.")})
    with transaction.atomic():
        move(quote, Status.DRAFT, acting_user=acting_user, why=why)
        mail_author(
            quote,
            "orders/quoting/mail/quote_sent_back.txt",
            _("Quote {number} comes back to you"),
            acting_user,
            why=why,
        )


def withdraw_quote(*, quote: Quote, acting_user: User, why: str) -> None:
    """Withdraw a quote that has not been answered; the customer hears of it if it was sent."""
    require_role(acting_user, *WRITES_QUOTES)
    require_move(quote, Status.VOID)
    if not why.strip():
        raise BadInput(_("Say why it is withdrawn."), fields={"why": _("Give a reason.")})
    was_sent = quote.status == Status.SENT
    with transaction.atomic():
        move(quote, Status.VOID, acting_user=acting_user, why=why)
        if was_sent:
            mail_customer(
                quote,
                "orders/quoting/mail/quote_withdrawn.txt",
                _("Quote {number} is withdrawn"),
                acting_user,
            )


def expire_quotes(*, acting_user: User | None, today: date) -> list[str]:
    """Close every sent quote whose last day has passed; returns their numbers."""
    if acting_user is not None:
        require_role(acting_user, Role.OFFICE)
    closed = []
    for quote in Quote.objects.filter(status=Status.SENT, valid_until__lt=today).order_by("pk"):
        try:
            with transaction.atomic():
                move(
                    quote,
                    Status.EXPIRED,
                    acting_user=acting_user,
                    who=str(acting_user or "the nightly expire_quotes command"),
                    why=f"Valid until {quote.valid_until}.",
                )
        except ChangedMeanwhile:
            continue  # answered or withdrawn this very moment; nothing to close
        closed.append(quote.number)
    return closed


def accept_quote(
    *,
    quote: Quote,
    acting_user: User | None,
    name: str,
    choice: int | None = None,
    seen_due_on: date | None = None,
    reference: str = "",
) -> Order:
    """The customer agrees: the quote becomes an order. Asked again, it is the same order.

    ``acting_user`` is None when the signed link was used; ``name`` is what was typed there,
    ``reference`` the customer's purchase order number.
    ``choice`` says which one is taken where the quote offers several; BadInput without it.
    LaterDate when the order would be due after the quote's date and after ``seen_due_on``.
    """
    require_may_answer(quote, acting_user)
    if quote.status == Status.ACCEPTED:
        return _order_of_accepted(quote, choice)
    try:
        with transaction.atomic():
            # What is closed is closed whichever was chosen: _answer says so.
            closed = why_closed(quote, timezone.localdate())
            taken = None if closed else require_choice(quote, choice)
            _answer(quote, Status.ACCEPTED, acting_user, name, why="", taken=taken)
            # Two quotes accepted at once: the second is dated behind the first one's order.
            hold_series(ORDER_PREFIX)
            due_on = due_if_accepted(quote, timezone.localdate())
            require_seen(quote, due_on, seen_due_on)
            order = create_order_from_quote(
                quote=quote,
                acting_user=acting_user,
                accepted_by=quote.decided_by_name,
                due_on=due_on,
                customer_reference=reference.strip()[:80],
            )
            mail_author_and_office(
                quote,
                "orders/quoting/mail/quote_accepted.txt",
                _("Quote {number} is accepted"),
                acting_user,
                order=order,
            )
    except ChangedMeanwhile:
        quote.refresh_from_db()
        if quote.status != Status.ACCEPTED:
            raise
        return _order_of_accepted(quote, choice)  # the same click, twice at once
    return order


def _order_of_accepted(quote: Quote, choice: int | None) -> Order:
    """The order there is; IllegalMove for whoever now chooses otherwise."""
    if choice is not None and choice != quote.chosen:
        raise IllegalMove(why_closed(quote, timezone.localdate()))
    return quote.order


def decline_quote(*, quote: Quote, acting_user: User | None, name: str, why: str = "") -> None:
    """The customer does not want it. Declining twice changes nothing."""
    require_may_answer(quote, acting_user)
    if quote.status == Status.DECLINED:
        return
    with transaction.atomic():
        _answer(quote, Status.DECLINED, acting_user, name, why=why)
        mail_author(
            quote,
            "orders/quoting/mail/quote_declined.txt",
            _("Quote {number} is declined"),
            acting_user,
            why=why,
        )


def _answer(
    quote: Quote,
    to: Quote.Status,
    acting_user: User | None,
    name: str,
    *,
    why: str,
    taken: Choice | None = None,
) -> None:
    if closed := why_closed(quote, timezone.localdate()):
        raise IllegalMove(closed)
    if not name.strip():
        raise BadInput(_("Type your name."), fields={"name": _("Your name is needed.")})
    how = "by the signed link" if acting_user is None else f"recorded by {acting_user}"
    columns: dict[str, Any] = {}
    data: dict[str, Any] = {}
    if taken is not None:
        columns = {
            "chosen": taken.number,
            "total": taken.total,
            "deposit_total": taken.deposit_total,
        }
        data = {"choice": taken.number, "total": str(taken.total)}
        why = f"Choice {taken.number}, {taken.alternative.revision.blend.name}."
    move(
        quote,
        to,
        acting_user=acting_user,
        who=f"{name.strip()[:120]} ({how})",
        why=why,
        data=data,
        decided_at=timezone.now(),
        decided_by_name=name.strip()[:120],
        decision_note=why[:400],
        **columns,
    )


def _send(quote: Quote, acting_user: User, *, why: str) -> list[str]:
    require_profile()
    if quote.replaces is not None:
        _withdraw_replaced(quote.replaces, quote, acting_user)
    now = timezone.now()
    last_day = timezone.localdate() + timedelta(days=quote.validity_days)
    move(
        quote,
        Status.SENT,
        acting_user=acting_user,
        why=why,
        data=_totals(quote),
        sent_at=now,
        valid_until=last_day,
        due_on=date_to_offer(quote, timezone.localdate()),
    )
    _promise_labels(quote, acting_user)
    paper = issue_quote_paper(quote=quote, acting_user=acting_user, accept_url=quote_url(quote))
    return mail_offer(quote, paper, _("Quote {number} for you to read"), acting_user)


def _withdraw_replaced(old: Quote, by: Quote, acting_user: User) -> None:
    """The customer hears of it in the mail of the new version, and by the old one's link."""
    if old.status == Status.ACCEPTED:
        raise IllegalMove(
            _("{old} is accepted meanwhile; {number} cannot take its place.").format(
                old=old.number, number=by.number
            )
        )
    if old.status == Status.SENT:
        move(old, Status.VOID, acting_user=acting_user, why=f"Replaced by {by.number}.")


def _promise_labels(quote: Quote, acting_user: User) -> None:
    """The label lines of each blend are promised with its first quote and kept by every load."""
    for line in quote.lines.select_related("revision__blend"):
        promise_of_default_load(
            recipe=load_recipe(line.revision, timezone.localdate()),
            volume_gal=exact(line.volume_gal),
            acting_user=acting_user,
        )


def _reprice_or_note_change(
    quote: Quote, acting_user: User, seen_total: Decimal | None, seen_choices: Sequence[Decimal]
) -> str:
    """Reprice a draft; a sentence (and an event) if its totals are not those that were seen."""
    _reprice(quote)
    if seen_total is None:
        return ""
    choices = [choice.total for choice in choices_of(quote)]
    if seen_total == quote.total and list(seen_choices) == choices:
        return ""
    note(quote, acting_user=acting_user, why="Costs moved while sending.", data=_totals(quote))
    if choices:
        return _(
            "The totals of {number} are now {now}: costs or terms have changed since you saw them."
            " Look again, then send it."
        ).format(
            number=quote.number,
            now=", ".join(house().money(total, settings.CURRENCY) for total in choices),
        )
    return _(
        "The total of {number} is now {now}, not {seen}: costs or terms have changed since you "
        "saw it. Look again, then send it."
    ).format(
        number=quote.number,
        now=house().money(quote.total, settings.CURRENCY),
        seen=house().money(seen_total, settings.CURRENCY),
    )


def _reprice(quote: Quote, catalogue: Catalogue | None = None) -> None:
    lines = quote.lines.select_related("revision__blend", "package")
    _write_lines(quote, draft_lines_of(list(lines)), timezone.localdate(), catalogue)


def _write_lines(
    quote: Quote, lines: Sequence[DraftLine], today: date, catalogue: Catalogue | None = None
) -> None:
    """Replace the lines of a draft by these at today's price, and set its totals."""
    draft = price_draft(
        lines, company=quote.company, ship_to=quote.ship_to, today=today, catalogue=catalogue
    )
    price = draft.price
    # What stops a line is the office's to answer for, as a price below the floor is.
    stops = line_stops(
        [StripLine(line.revision, line.n_rate_lb_per_1000sqft) for line in lines],
        company=quote.company,
        ship_to=quote.ship_to,
        today=today,
    )
    reasons = (*approval_reasons(draft), *stops)
    _set(
        quote,
        total=price.total,
        deposit_total=price.deposit_total,
        choices=max(way.choice or 0 for way in draft.ways),
        priced_on=None if catalogue else today,
        needs_approval=bool(reasons),
        approval_reason=" ".join(reasons)[:400],
    )
    quote.lines.all().delete()
    taken = [
        (way.choice, lines[place], draft.requests[place], breakdown)
        for way in draft.ways
        for place, breakdown in zip(way.places, way.price.lines, strict=True)
    ]
    QuoteLine.objects.bulk_create(
        QuoteLine(
            quote=quote,
            position=position,
            choice=choice,
            in_every_choice=choice is not None and not line.alternative,
            revision=line.revision,
            package=line.package,
            quantity=line.quantity,
            n_rate_lb_per_1000sqft=line.n_rate_lb_per_1000sqft,
            margin_pct=line.margin_pct,
            **line_figures(line.revision, request, breakdown),
        )
        for position, (choice, line, request, breakdown) in enumerate(taken, start=1)
    )


def _set(quote: Quote, **columns: Any) -> None:
    """Guarded: only while the quote is still the draft the caller saw."""
    if Quote.objects.filter(pk=quote.pk, status=Status.DRAFT).update(**columns) != 1:
        raise ChangedMeanwhile(
            _("Somebody else changed {number} meanwhile; look again.").format(number=quote.number)
        )
    for name, value in columns.items():
        setattr(quote, name, value)


def _totals(quote: Quote) -> dict[str, Any]:
    totals: dict[str, Any] = {
        "total": str(quote.total),
        "deposit_total": str(quote.deposit_total),
    }
    if quote.choices:
        totals["choice_totals"] = [str(choice.total) for choice in choices_of(quote)]
    return totals
