"""Plain-text mails about a quote, posted with the change they tell of."""

from collections.abc import Sequence
from typing import Any

from django.conf import settings
from django.db.models import QuerySet
from django.template.loader import render_to_string
from django.urls import reverse

from blendshop.accounts.models import User
from blendshop.figures.readers import house, read_in
from blendshop.notices.mail import Letter
from blendshop.outbox.actions import post_mail
from blendshop.roles import Role
from orders.models import Paper, Quote
from orders.papers.attached_papers import attached
from orders.quoting.choices import ChoiceView, choice_words, choices_of
from orders.quoting.links import quote_url
from orders.quoting.load_words import load_words
from orders.quoting.quote_words import quote_words
from orders.quoting.view_models import QuoteView
from orders.records.reply_address import reply_address

#: The kind of record a quote's mails are about.
ABOUT = "quote"


def mail_offer(quote: Quote, paper: Paper, subject: str, acting_user: User | None) -> list[str]:
    """Mail the customer what is offered, the paper with it; the addresses."""
    view = QuoteView.from_json(paper.snapshot)
    return mail_customer(
        quote,
        "orders/quoting/mail/quote_sent.txt",
        subject,
        acting_user,
        paper=paper,
        **offer_context(view),
    )


def offer_context(view: QuoteView) -> dict[str, Any]:
    """What the mail of a quote is written from."""
    return {"offer": quote_words(view, house()), "replaces": view.replaces}


def mail_customer(
    quote: Quote,
    template: str,
    subject: str,
    acting_user: User | None,
    *,
    paper: Paper | None = None,
    **more: Any,
) -> list[str]:
    """Mail the customer's people who may order and the quote's own addresses, with the signed
    link; the addresses. The rep reads what they answer.
    """
    return _mail(
        quote,
        template,
        subject,
        recipients(quote),
        acting_user,
        page_url=quote_url(quote),
        reply_to=reply_address(quote),
        paper=paper,
        **more,
    )


def recipients(quote: Quote) -> list[str]:
    """The customer's people who may order, and the quote's own addresses, each once.

    The link that is mailed accepts without a login, so it does not go to who may only look; nor
    to who has switched off mails about quotes.
    """
    people = User.objects.filter(
        company=quote.company_id,
        is_active=True,
        may_order=True,
        mailed_quotes=True,
        groups__name=Role.CUSTOMER.value,
    )
    named = {address.lower(): address for address in quote.mailed_to}
    return sorted((named | {address.lower(): address for address in _emails(people)}).values())


def _emails(people: QuerySet[User]) -> list[str]:
    return list(people.order_by("email").values_list("email", flat=True))


def staff_letter(quote: Quote, template: str, subject: str, **more: Any) -> Letter:
    """What those of the plant whose quote it is read, with the address of its page."""
    page_url = settings.SITE_URL + reverse("quote_detail", args=[quote.number])
    text = _text(quote, template, page_url=page_url, **more)
    return Letter(subject.format(number=quote.number), text)


def _mail(
    quote: Quote,
    template: str,
    subject: str,
    to: Sequence[str],
    acting_user: User | None,
    *,
    reply_to: str = "",
    paper: Paper | None = None,
    **context: Any,
) -> list[str]:
    if not to:
        return []
    text = _text(quote, template, **context)
    post_mail(
        to=to,
        subject=subject.format(number=quote.number),
        text=text,
        about=(ABOUT, quote.number),
        caused_by=acting_user,
        reply_to=reply_to,
        attached=attached(paper) if paper else None,
    )
    return list(to)


def _text(quote: Quote, template: str, **context: Any) -> str:
    choices = choices_of(quote) if quote.is_choice_open else ()
    lines = list(
        (quote.lines.all() if choices else quote.taken_lines()).select_related(
            "revision__blend", "package"
        )
    )
    loads = [line.price_breakdown.load for line in lines]
    context |= {
        "choices": [ChoiceView(choice, choice_words(choice, house())) for choice in choices],
        "loads": list(dict.fromkeys(load_words(load, house()) for load in loads if load)),
    }
    with read_in(house()):  # several people read it, whoever sends it
        return render_to_string(template, {"quote": quote, "lines": lines, **context})
