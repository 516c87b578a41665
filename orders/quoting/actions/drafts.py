"""A draft: written, changed, priced anew."""

from collections.abc import Sequence
from datetime import date, timedelta
from decimal import Decimal
from typing import Any, Final

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from blendshop.accounts.models import Company, User
from blendshop.errors import ChangedMeanwhile
from blendshop.roles import require_role
from formulas.engine_bridge import Catalogue
from orders.models import Quote, QuoteLine, ShipTo
from orders.quoting.actions.refusals import (
    WRITES_QUOTES,
    require_day_to_come,
    require_draft,
    require_fitting,
)
from orders.quoting.choices import choices_of
from orders.quoting.deals import QuoteDeal, deal_of_quote
from orders.quoting.draft_prices import (
    DraftLine,
    approval_reasons,
    draft_lines_of,
    line_figures,
    price_draft,
)
from orders.quoting.line_strip import StripLine, line_stops, spraying_now
from orders.records.moves import note
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
    agreed_freight: Decimal | None = None,
    deal: QuoteDeal | None = None,
    replaces: Quote | None = None,
    catalogue: Catalogue | None = None,
    once_key: str = "",
) -> Quote:
    """A new draft, priced with today's costs, or those of another ``catalogue``.

    Asked again under the same ``once_key`` it is the draft there is.

    ``mailed_to`` are addresses it is mailed to beside the customer's people, ``payment_terms``
    those of this quote alone, ``wanted_on`` the day the customer asks for, ``agreed_freight`` what
    was agreed instead of the tariff, ``deal`` what was negotiated over all lines together. Once
    sent it takes the place of the quote it ``replaces``.
    """
    require_role(acting_user, *WRITES_QUOTES)
    require_fitting(company, ship_to, lines, validity_days)
    today = timezone.localdate()
    require_day_to_come(wanted_on, today)
    with transaction.atomic():
        hold_series(QUOTE_PREFIX)  # the same form twice at once: the second waits here
        if once_key and (made := Quote.objects.filter(once_key=once_key).first()):
            return made
        quote = Quote.objects.create(
            number=next_number(QUOTE_PREFIX),
            once_key=once_key or None,
            agreed_freight=agreed_freight,
            **_deal_columns(deal),
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
        rewrite_lines(quote, lines, today, catalogue)
        why = f"Drafted as the next version of {replaces.number}." if replaces else "Drafted."
        note(quote, acting_user=acting_user, why=why, new=True, data=totals(quote))
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
    agreed_freight: Decimal | None = None,
    deal: QuoteDeal | None = None,
    seen_event: int | None = None,
    once_key: str = "",
) -> None:
    """Replace what a draft asks for and price it with today's costs.

    ``seen_event`` is the newest event when the draft was read; ChangedMeanwhile if there is a
    newer one, so that nobody overwrites a colleague's change unread. The same ``once_key`` again
    changes nothing.
    """
    require_role(acting_user, *WRITES_QUOTES)
    require_draft(quote)
    if once_key and quote.events.filter(data__once=once_key).exists():
        return
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
            agreed_freight=agreed_freight,
            **_deal_columns(deal),
        )
        if seen_event is not None and seen_event != quote.events.order_by("-pk")[0].pk:
            raise ChangedMeanwhile(
                _("Somebody else changed {number} meanwhile; look again.").format(
                    number=quote.number
                )
            )
        rewrite_lines(quote, lines, today)
        kept = totals(quote) | ({"once": once_key} if once_key else {})
        note(quote, acting_user=acting_user, why="Changed.", data=kept)


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
        reprice(quote, catalogue)
        rise = quote.total - before
        if rise:
            note(quote, acting_user=acting_user, why="Repriced.", data=totals(quote))
    return rise


def reprice(quote: Quote, catalogue: Catalogue | None = None) -> None:
    """Price what a draft asks for with today's costs; inside the caller's transaction."""
    lines = quote.lines.select_related("revision__blend", "package")
    rewrite_lines(quote, draft_lines_of(list(lines)), timezone.localdate(), catalogue)


def totals(quote: Quote) -> dict[str, Any]:
    """What an event keeps of a quote's price."""
    kept: dict[str, Any] = {
        "total": str(quote.total),
        "deposit_total": str(quote.deposit_total),
    }
    if quote.choices:
        kept["choice_totals"] = [str(choice.total) for choice in choices_of(quote)]
    return kept


def rewrite_lines(
    quote: Quote, lines: Sequence[DraftLine], today: date, catalogue: Catalogue | None = None
) -> None:
    """Replace the lines of a draft by these at today's price, and set its totals."""
    draft = price_draft(
        lines,
        company=quote.company,
        ship_to=quote.ship_to,
        today=today,
        agreed_freight=quote.agreed_freight,
        deal=deal_of_quote(quote),
        catalogue=catalogue,
    )
    price = draft.price
    spraying = spraying_now(quote.company, quote.ship_to)
    # What stops a line is the office's to answer for, as a price below the floor is.
    stops = line_stops(
        [
            StripLine(line.revision, line.n_rate_lb_per_1000sqft, spraying=spraying)
            for line in lines
        ],
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
            deal=line.deal.kind if line.deal else "",
            deal_figure=line.deal.figure if line.deal else None,
            sprayed=spraying.to_json(),
            **line_figures(line.revision, request, breakdown),
        )
        for position, (choice, line, request, breakdown) in enumerate(taken, start=1)
    )


def _deal_columns(deal: QuoteDeal | None) -> dict[str, Any]:
    return {
        "deal": "" if deal is None else deal.kind,
        "deal_figure": None if deal is None else deal.figure,
    }


def _set(quote: Quote, **columns: Any) -> None:
    """Guarded: only while the quote is still the draft the caller saw."""
    if Quote.objects.filter(pk=quote.pk, status=Status.DRAFT).update(**columns) != 1:
        raise ChangedMeanwhile(
            _("Somebody else changed {number} meanwhile; look again.").format(number=quote.number)
        )
    for name, value in columns.items():
        setattr(quote, name, value)
