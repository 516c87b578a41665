"""What a customer is told of new costs: the same text in the preview and in the mail."""

from __future__ import annotations

from django.template.loader import render_to_string
from django.utils.translation import gettext as _

from blendshop.languages.choice import choice_for, written_in
from orders.models import Quote
from orders.quoting.links import quote_url


def usual_words() -> str:
    """What the office begins from."""
    return _(
        "What we pay for the raw materials of your blend has risen. Your quote stands as it is"
        " until its last day; after that we have to quote it anew."
    )


def letter_subject(quote: Quote) -> str:
    with written_in(choice_for(quote.company)):
        return _("About your quote {number}").format(number=quote.number)


def letter_text(quote: Quote, words: str) -> str:
    """The mail as the company reads it: the office's words, the quote, until when, its link."""
    context = {"quote": quote, "words": words.strip(), "page_url": quote_url(quote)}
    with written_in(choice_for(quote.company)):
        return render_to_string("orders/cost_change/mail/new_costs.txt", context)
