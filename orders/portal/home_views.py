"""Where a customer begins, and its papers lot by lot."""

from functools import partial

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from blendshop.accounts.signed_in import signed_in
from blendshop.pages import page_of
from blendshop.roles import Role, role_required
from orders.portal.forms import LotSearch
from orders.portal.home_page import home_page
from orders.portal.lot_papers import find_lots, read_lots

LOTS_A_PAGE = 20


@role_required(Role.CUSTOMER)
@require_safe
def customer_home(request: HttpRequest) -> HttpResponse:
    user = signed_in(request)
    context = {"company": user.company, **home_page(user, timezone.localdate())}
    return render(request, "orders/portal/customer_home.html", context)


@role_required(Role.CUSTOMER)
@require_safe
def papers_by_lot(request: HttpRequest) -> HttpResponse:
    """All lots a customer was delivered, with label, certificate and packing list of each."""
    user = signed_in(request)
    form = LotSearch(request.GET)
    text = form.cleaned_data["q"] if form.is_valid() else ""
    page = page_of(
        find_lots(user, text),
        request.GET.get("page"),
        per_page=LOTS_A_PAGE,
        read=partial(read_lots, user=user),
    )
    context = {"form": form, "page": page, "company": user.company}
    return render(request, "orders/portal/papers_by_lot.html", context)
