"""The open quotes, those that earn least at today's costs first."""

from typing import Final

from django.db.models import F
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from blendshop.pages import page_of
from blendshop.roles import SEES_COST, role_required
from formulas.repricing.standing import repricing_standing
from orders.models import Quote, QuoteMargin

_PER_PAGE: Final = 50


@role_required(*SEES_COST)
@require_safe
def open_quote_margins(request: HttpRequest) -> HttpResponse:
    """Margin when it was quoted, margin now and the floor; what cannot be priced comes first."""
    standing = Quote.objects.with_standing_price(timezone.localdate())
    margins = QuoteMargin.objects.filter(quote__in=standing)
    page = page_of(
        margins.order_by(F("margin_pct_now").asc(nulls_first=True), "quote"),
        request.GET.get("page"),
        per_page=_PER_PAGE,
        read=lambda rows: rows.select_related("quote__company", "state").defer("lines"),
    )
    context = {"page": page, "repricing": repricing_standing()}
    return render(request, "orders/repricing/open_quote_margins.html", context)
