"""Plain-text mails about a quote, posted with the change they tell of."""

from typing import Any

from django.conf import settings
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils.translation import gettext

from blendshop.accounts.models import User
from blendshop.figures.readers import reader
from blendshop.languages.choice import (
    Choice,
    by_choice,
    choice_for,
    choice_of,
    in_house_words,
    written_in,
)
from blendshop.notices.mail import Letter
from blendshop.outbox.actions import post_mail
from blendshop.roles import Role
from orders.models import Order, Paper, Quote
from orders.ordering.mail import mail_confirmation
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
        view=view,
    )


def offer_context(view: QuoteView) -> dict[str, Any]:
    """What the mail of a quote is written from, in the words and figures of its reader."""
    return {"offer": quote_words(view, reader()), "replaces": view.replaces}


def mail_customer(
    quote: Quote,
    template: str,
    subject: str,
    acting_user: User | None,
    *,
    paper: Paper | None = None,
    view: QuoteView | None = None,
) -> list[str]:
    """Mail the customer's people who may order and the quote's own addresses, with the signed
    link; the addresses. The rep reads what they answer.

    ``subject`` is marked by ``gettext_noop``: each person reads the mail in the own language and
    units, an address of the quote's in the company's.
    """
    chosen = _readers(quote)
    for choice, addresses in by_choice(chosen.items()).items():
        with written_in(choice):
            context = offer_context(view) if view else {}
            post_mail(
                to=addresses,
                subject=gettext(subject).format(number=quote.number),
                text=_text(quote, template, page_url=quote_url(quote), **context),
                about=(ABOUT, quote.number),
                caused_by=acting_user,
                reply_to=reply_address(quote),
                attached=attached(paper) if paper else None,
            )
    return list(chosen)


def mail_taken(quote: Quote, order: Order, acting_user: User | None) -> None:
    """Who got the quote without a login reads of its order too; its link shows what became of it.

    People of the company are told as of any order.
    """
    people = User.objects.filter(company=quote.company_id, is_active=True)
    told = {email.lower() for email in people.values_list("email", flat=True)}
    addresses = [each for each in quote.mailed_to if each.lower() not in told]
    mail_confirmation(order, addresses, page_url=quote_url(quote), acting_user=acting_user)


def recipients(quote: Quote) -> list[str]:
    """The customer's people who may order, and the quote's own addresses, each once.

    The link that is mailed accepts without a login, so it does not go to who may only look; nor
    to who has switched off mails about quotes.
    """
    return list(_readers(quote))


def _readers(quote: Quote) -> dict[str, Choice]:
    """The addresses in their order, and in whose language and units each is written to."""
    people = User.objects.filter(
        company=quote.company_id,
        is_active=True,
        may_order=True,
        mailed_quotes=True,
        groups__name=Role.CUSTOMER.value,
    )
    of_company = choice_for(quote.company)
    named = {address.lower(): (address, of_company) for address in quote.mailed_to}
    own = {
        each.email.lower(): (each.email, choice_of(each))
        for each in people.select_related("company")
    }
    return dict(sorted((named | own).values(), key=lambda reader: reader[0]))


def staff_letter(quote: Quote, template: str, subject: str, **more: Any) -> Letter:
    """What those of the plant whose quote it is read, with the address of its page."""
    page_url = settings.SITE_URL + reverse("quote_detail", args=[quote.number])
    with in_house_words():
        text = _text(quote, template, page_url=page_url, **more)
    return Letter(subject.format(number=quote.number), text)


def _text(quote: Quote, template: str, **context: Any) -> str:
    choices = choices_of(quote) if quote.is_choice_open else ()
    lines = list(
        (quote.lines.all() if choices else quote.taken_lines()).select_related(
            "revision__blend", "package"
        )
    )
    loads = [line.price_breakdown.load for line in lines]
    context |= {
        "choices": [ChoiceView(choice, choice_words(choice, reader())) for choice in choices],
        "loads": list(dict.fromkeys(load_words(load, reader()) for load in loads if load)),
    }
    return render_to_string(template, {"quote": quote, "lines": lines, **context})
