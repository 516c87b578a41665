"""A draft's paper and mail before it is sent, marked as drafts; nothing is stored."""

from dataclasses import replace
from datetime import timedelta
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.template.loader import render_to_string
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from blendshop.accounts.signed_in import signed_in
from blendshop.downloads import private_pdf
from blendshop.errors import IllegalMove
from blendshop.languages.choice import choice_for, written_in
from blendshop.roles import role_required
from orders.models import Quote
from orders.quoting.actions.refusals import WRITES_QUOTES
from orders.quoting.mail import offer_context, recipients
from orders.quoting.offered_date import date_to_offer
from orders.quoting.quote_pdf import render_quote
from orders.quoting.quote_view import quote_view
from orders.quoting.view_models import QuoteView
from orders.records.access import get_quote_for
from orders.records.reply_address import reply_address
from orders.records.written import ENGLISH, writing


@role_required(*WRITES_QUOTES)
@require_safe
def quote_draft_pdf(request: HttpRequest, number: str) -> HttpResponse:
    """The paper as it would be issued today; with ``?lang=en`` its English print."""
    quote = get_quote_for(signed_in(request), number)
    view = _sent_today(quote)
    if request.GET.get("lang") == ENGLISH.language:
        view = view.in_english or view
    with writing(view.written):
        banner = _("DRAFT, not an offer")
    return private_pdf(render_quote(view, banner=banner), f"{quote.number}-draft")


@role_required(*WRITES_QUOTES)
@require_safe
def quote_draft_mail(request: HttpRequest, number: str) -> HttpResponse:
    """The mail as it would go out today, and to whom."""
    quote = get_quote_for(signed_in(request), number)
    link = _("(the customer's link, made when it is sent)")
    view = _sent_today(quote)
    with written_in(choice_for(quote.company)):
        context = {**offer_context(view), "page_url": link}
        text = render_to_string("orders/quoting/mail/quote_sent.txt", context)
    shown = {
        "quote": quote,
        "recipients": recipients(quote),
        "reply_to": reply_address(quote),
        "text": text,
    }
    return render(request, "orders/quoting/quote_draft_mail.html", shown)


def _sent_today(quote: Quote) -> QuoteView:
    """IllegalMove once it was sent: then paper and mail are what they are."""
    if quote.status not in (Quote.Status.DRAFT, Quote.Status.AWAITING_APPROVAL):
        raise IllegalMove(
            _("{number} is {status}; its paper and mails stand on its page.").format(
                number=quote.number, status=quote.get_status_display()
            )
        )
    today = timezone.localdate()
    view = quote_view(quote)
    days: dict[str, Any] = {
        "quoted_on": today,
        "valid_until": today + timedelta(days=quote.validity_days),
        "due_on": date_to_offer(quote, today),
    }
    english, spanish = view.in_english, view.in_spanish
    return replace(
        view,
        **days,
        in_english=english and replace(english, **days),
        in_spanish=spanish and replace(spanish, **days),
    )
