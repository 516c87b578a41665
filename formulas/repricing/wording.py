"""What a repricing came to, in one line."""

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from blendshop.figures.readers import reader
from formulas.models import Repricing


def repriced_words(repricing: Repricing) -> str:
    """``142 blends and 31 open quotes repriced; 3 quotes are below the floor.``"""
    blends = ngettext("{count} blend", "{count} blends", repricing.blends)
    quotes = ngettext("{count} open quote", "{count} open quotes", repricing.quotes)
    below = ngettext(
        "{count} quote is below the floor",
        "{count} quotes are below the floor",
        repricing.quotes_below_floor,
    )
    figure = reader().every_digit
    return _("{blends} and {quotes} repriced; {below}.").format(
        blends=blends.format(count=figure(repricing.blends)),
        quotes=quotes.format(count=figure(repricing.quotes)),
        below=below.format(count=figure(repricing.quotes_below_floor)),
    )
