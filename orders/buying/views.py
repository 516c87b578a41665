"""What to buy and when, one stock week by week, and the list for each supplier."""

from __future__ import annotations

from typing import Final

from django.conf import settings
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from blendshop.csv_download import csv_response
from blendshop.downloads import private_pdf
from blendshop.roles import Role, has_role, role_required
from orders.buying.actions import BUYERS
from orders.buying.asked import asked_of
from orders.buying.forms import StorageForm
from orders.buying.planned_rounds import plans_of_stock
from orders.buying.purchase_list import (
    COLUMNS,
    PurchaseList,
    plain_pounds,
    purchase_list,
    table,
)
from orders.buying.purchase_list_pdf import render_purchase_list
from orders.buying.standing_rounds import rounds_of_stock
from orders.models import PlantProfile
from orders.records.letterhead import plant_block

#: Who sees what to buy; what it costs is not the plant's.
READERS: Final = (Role.OFFICE, Role.FORMULATOR, Role.PLANT)
STOCKS_A_PAGE: Final = 50


@role_required(*READERS)
@require_safe
def buying_page(request: HttpRequest) -> HttpResponse:
    """What to buy, the most urgent first; ``?covered=`` lists what needs no purchase."""
    form, found = asked_of(request)
    is_covered = "covered" in request.GET
    rows = found.covered if is_covered else found.to_buy
    context = {
        "form": form,
        "found": found,
        "is_covered": is_covered,
        "page": Paginator(rows, STOCKS_A_PAGE).get_page(request.GET.get("page")),
        **_may(request),
    }
    return render(request, "orders/buying/buying.html", context)


@role_required(*READERS)
@require_safe
def buying_stock(request: HttpRequest, code: str) -> HttpResponse:
    """One stock week by week, with the orders and rounds that want it."""
    form, found = asked_of(request)
    each = found.of_stock(code)
    if each is None:
        raise Http404
    context = {
        "form": form,
        "found": found,
        "each": each,
        "rounds": rounds_of_stock(each.stock, found.horizon),
        "plans": plans_of_stock(each.stock, found.plans),
        "storage": StorageForm(
            initial={"most_lb": plain_pounds(each.storage_lb) if each.storage_lb else ""}
        ),
        **_may(request),
    }
    return render(request, "orders/buying/buying_stock.html", context)


@role_required(*BUYERS)
@require_safe
def purchase_list_page(request: HttpRequest) -> HttpResponse:
    """What is bought from whom, with what it costs at the costs in force."""
    form, found = asked_of(request)
    context = {
        "form": form,
        "found": found,
        "purchases": purchase_list(found),
        **_may(request),
    }
    return render(request, "orders/buying/purchase_list.html", context)


@role_required(*BUYERS)
@require_safe
def purchase_list_csv(request: HttpRequest) -> HttpResponse:
    purchases = purchase_list(asked_of(request)[1])
    return csv_response(_name(purchases), COLUMNS, table(purchases))


@role_required(*BUYERS)
@require_safe
def purchase_list_pdf(request: HttpRequest) -> HttpResponse:
    purchases = purchase_list(asked_of(request)[1])
    plant = plant_block(PlantProfile.load())
    return private_pdf(render_purchase_list(purchases, plant, settings.CURRENCY), _name(purchases))


def _may(request: HttpRequest) -> dict[str, bool]:
    return {
        "may_buy": has_role(request.user, *BUYERS),
        "may_set": has_role(request.user, Role.OFFICE),
    }


def _name(purchases: PurchaseList) -> str:
    return f"purchase-list-{purchases.today.isoformat()}-{purchases.weeks}-weeks"
