"""What fits as somebody types into a search of the blend page, as options of its select."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_safe

from blendshop.accounts.search import named
from blendshop.accounts.signed_in import signed_in
from blendshop.roles import BLENDS, role_required
from blendshop.searched_rows import (
    chosen_key,
    fitting_values,
    is_key,
    options_page,
    typed_words,
    values_page,
)
from formulas.models import BaseStock
from orders.blend_page.page_options import customers_of, ship_tos_of
from orders.records.ship_tos import ship_tos_at


@role_required(*BLENDS)
@require_safe
def blend_stock_options(request: HttpRequest) -> HttpResponse:
    """Stocks that may be blended today, by code."""
    on_offer = BaseStock.objects.on_offer(timezone.localdate()).order_by("name")
    stocks = list(on_offer.values_list("code", "name"))
    chosen = next((stock for stock in stocks if stock[0] == chosen_key(request)), None)
    return values_page(request, fitting_values(stocks, typed_words(request)), chosen)


@role_required(*BLENDS)
@require_safe
def blend_customer_options(request: HttpRequest) -> HttpResponse:
    """Whom the blend may be for."""
    customers = customers_of(signed_in(request))
    return options_page(request, named(customers, typed_words(request)), among=customers)


@role_required(*BLENDS)
@require_safe
def blend_ship_to_options(request: HttpRequest) -> HttpResponse:
    """Where the chosen customer may have it brought."""
    company = request.GET.get("company", "")
    places = ship_tos_of(signed_in(request))
    theirs = places.filter(company=int(company)) if is_key(company) else places.none()
    return options_page(request, ship_tos_at(theirs, typed_words(request)), among=theirs)
