"""The signed link on a crew sheet: crews have no login and read one sheet by it.

It ends when the sheet is closed, or after ``LINK_DAYS``.
"""

from __future__ import annotations

from datetime import timedelta
from typing import Final

from django.conf import settings
from django.core import signing
from django.http import Http404
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from orders.models import CrewSheet
from orders.quoting.links import LinkExpired

#: A sheet is of one season (the house's own rule).
LINK_DAYS: Final = 400
_SALT: Final = "orders.crew_sheet_link"


def sheet_token(sheet: CrewSheet) -> str:
    """The signed part of the link, the same each time."""
    return signing.Signer(salt=_SALT).sign(sheet.number)


def sheet_url(sheet: CrewSheet) -> str:
    """The whole link as a QR code holds it."""
    return settings.SITE_URL + reverse("crew_phone", args=[sheet_token(sheet)])


def require_open(sheet: CrewSheet) -> None:
    """LinkExpired of a sheet that is closed or too old."""
    if sheet.closed_at or timezone.now() - sheet.made_at > timedelta(days=LINK_DAYS):
        raise LinkExpired(_("This crew sheet is closed; ask your office for the new one."))


def sheet_of_token(token: str) -> CrewSheet:
    """The sheet of a genuine link; Http404 for any other, LinkExpired where it ended."""
    try:
        number = signing.Signer(salt=_SALT).unsign(token)
    except signing.BadSignature as tampered:
        raise Http404("No such crew sheet.") from tampered
    sheets = CrewSheet.objects.select_related("company", "order_line__revision", "part")
    found = sheets.filter(number=number).first()
    if found is None:
        raise Http404("No such crew sheet.")
    require_open(found)
    return found
