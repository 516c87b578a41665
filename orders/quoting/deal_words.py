"""What was negotiated over a whole quote, in a sentence for the plant."""

from __future__ import annotations

from django.conf import settings
from django.utils.translation import gettext as _

from blendshop.figures.writing import Figures
from orders.models import Quote
from orders.quoting.deals import QuoteDeal, deal_of_quote


def deal_words(quote: Quote, figures: Figures) -> str:
    """Empty where nothing was; of a choice, what the other choices follow from."""
    deal = deal_of_quote(quote)
    if deal is None:
        return ""
    said = _sentence(deal, figures)
    if quote.choices:
        of_which = _("It is that of the cheapest choice; the others change by the same percentage.")
        return f"{said} {of_which}"
    return said


def _sentence(deal: QuoteDeal, figures: Figures) -> str:
    if deal.pct is not None:
        words = _("Negotiated by the rep: {pct} % off all lines together.")
        return words.format(pct=figures.at_most(deal.pct, 2))
    money = figures.money(deal.figure, settings.CURRENCY)
    if deal.is_price:
        return _("Negotiated by the rep: {price} for all lines together.").format(price=money)
    return _("Negotiated by the rep: {amount} off all lines together.").format(amount=money)
