"""The search of the plant's people."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from blendshop.accounts.signed_in import signed_in
from blendshop.roles import STAFF, role_required
from orders.records.scanned import LONGEST_SCANNED, scanned_number
from orders.searching.asked import LONGEST, Asked
from orders.searching.kinds import search
from orders.searching.numbers import lead_of


@role_required(*STAFF)
@require_safe
def search_page(request: HttpRequest) -> HttpResponse:
    """An exact number leads straight to its record; all else to what fits, kind by kind."""
    user = signed_in(request)
    text = " ".join(request.GET.get("q", "").replace("\0", "").split())[:LONGEST_SCANNED]
    asked = Asked(scanned_number(text)[:LONGEST], timezone.localdate().year)
    if lead := lead_of(user, asked):
        return redirect(lead)
    context = {"asked_everywhere": asked.text, "groups": search(user, asked)}
    return render(request, "orders/searching/search_page.html", context)
