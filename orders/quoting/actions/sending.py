"""A draft on its way: to the office, to the customer, back, withdrawn or expired."""

from collections.abc import Sequence
from datetime import date, timedelta
from decimal import Decimal

from django.conf import settings
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from blendshop.accounts.models import User
from blendshop.errors import BadInput, ChangedMeanwhile, IllegalMove
from blendshop.figures.readers import house
from blendshop.roles import Role, require_role
from formulas.engine_bridge import exact
from orders.models import Quote
from orders.planning.actions.promises import promise_of_default_load
from orders.planning.load_question import load_recipe
from orders.quoting.actions.drafts import reprice, totals
from orders.quoting.actions.paper import issue_quote_paper
from orders.quoting.actions.refusals import (
    WRITES_QUOTES,
    require_awaiting,
    require_draft,
    require_reason,
)
from orders.quoting.choices import choices_of
from orders.quoting.links import quote_url
from orders.quoting.mail import mail_customer, mail_offer
from orders.quoting.notices import tell_approval_asked, tell_approved, tell_sent_back
from orders.quoting.offered_date import date_to_offer
from orders.records.letterhead import require_profile
from orders.records.moves import move, note, require_move

Status = Quote.Status


def submit_quote(
    *,
    quote: Quote,
    acting_user: User,
    why: str = "",
    seen_total: Decimal | None = None,
    seen_choices: Sequence[Decimal] = (),
) -> None:
    """Ask the office to approve a draft below the floor, or with a line that something stops.

    The figures stand from here on: what the office approves is what is sent. ``why`` is what the
    rep tells the office; BadInput without it where a rep negotiated below the floor.
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
            require_reason(quote, why)
            reason = f"{why.strip()} {quote.approval_reason}" if why else quote.approval_reason
            move(quote, Status.AWAITING_APPROVAL, acting_user=acting_user, why=reason)
            tell_approval_asked(quote, why.strip(), by=acting_user)
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
        if not changed and not quote.needs_approval:
            return _send(quote, acting_user, why="")
    if changed:
        raise ChangedMeanwhile(changed)
    # What stops it now is saved with the draft, so that its page asks the office next.
    raise IllegalMove(
        _("{number} cannot be sent before the office approves it. {reason}").format(
            number=quote.number, reason=quote.approval_reason
        )
    )


def approve_quote(*, quote: Quote, acting_user: User, why: str = "") -> None:
    """The office agrees to a price below the floor; the quote goes out as it was submitted."""
    require_role(acting_user, Role.OFFICE)
    require_awaiting(quote)
    with transaction.atomic():
        _send(quote, acting_user, why=why or "Approved.")
        tell_approved(quote, why, by=acting_user)


def send_back(*, quote: Quote, acting_user: User, why: str) -> None:
    """The office does not agree; the quote is a draft again."""
    require_role(acting_user, Role.OFFICE)
    require_move(quote, Status.DRAFT)
    if not why.strip():
        raise BadInput(_("Say what should change."), fields={"why": _("Give a reason.")})
    with transaction.atomic():
        move(quote, Status.DRAFT, acting_user=acting_user, why=why)
        tell_sent_back(quote, why, by=acting_user)


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
                gettext_noop("Quote {number} is withdrawn"),
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
        data=totals(quote),
        sent_at=now,
        valid_until=last_day,
        due_on=date_to_offer(quote, timezone.localdate()),
    )
    _promise_labels(quote, acting_user)
    paper = issue_quote_paper(quote=quote, acting_user=acting_user, accept_url=quote_url(quote))
    return mail_offer(quote, paper, gettext_noop("Quote {number} for you to read"), acting_user)


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
    reprice(quote)
    if seen_total is None:
        return ""
    choices = [choice.total for choice in choices_of(quote)]
    if seen_total == quote.total and list(seen_choices) == choices:
        return ""
    note(quote, acting_user=acting_user, why="Costs moved while sending.", data=totals(quote))
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
