"""The signed link by which a customer reads and answers a quote without a login.

Whoever holds the link can answer the quote, so it is signed, ends after
``settings.QUOTE_LINK_DAYS`` and shows only what the customer may see.
"""

from datetime import datetime, timedelta
from typing import Final

from django.conf import settings
from django.core import signing
from django.http import Http404
from django.urls import reverse
from django.utils.translation import gettext as _

from blendshop.errors import DomainError
from orders.models import Quote

_SALT: Final = "orders.quote_link"


class _SentSigner(signing.TimestampSigner):
    """Dates the link at the sending, so that one quote has one link, also printed again."""

    def __init__(self, at: datetime) -> None:
        super().__init__(salt=_SALT)
        self._at = at

    def timestamp(self) -> str:
        return signing.b62_encode(int(self._at.timestamp()))


class LinkExpired(DomainError):
    """The link was genuine but is too old (410)."""

    code = "link_expired"
    status = 410


def quote_token(quote: Quote) -> str:
    """The signed and dated part of the link."""
    return _SentSigner(quote.sent_at or quote.created_at).sign(quote.number)


def quote_url(quote: Quote) -> str:
    """The whole link as it goes into mails and QR codes."""
    return settings.SITE_URL + reverse("quote_public", args=[quote_token(quote)])


def quote_of_token(token: str) -> Quote:
    """The quote of a genuine link; Http404 for any other, LinkExpired for one too old."""
    signer = signing.TimestampSigner(salt=_SALT)
    try:
        number = signer.unsign(token, max_age=timedelta(days=settings.QUOTE_LINK_DAYS))
    except signing.SignatureExpired as expired:
        raise LinkExpired(_("This link has expired; ask us for a new one.")) from expired
    except signing.BadSignature as tampered:
        raise Http404("No such quote.") from tampered
    quote = Quote.objects.published().select_related("company", "ship_to").filter(number=number)
    found = quote.first()
    if found is None:
        raise Http404("No such quote.")
    return found
