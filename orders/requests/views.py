"""The page of what waits, and the word on each request."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from blendshop.accounts.signed_in import signed_in
from blendshop.pages import page_of
from blendshop.roles import has_role, role_required
from formulas.blends.reviews import REVIEWERS
from orders.customers.actions import (
    KEEPS_CUSTOMERS,
    confirm_own_ship_to,
    decline_own_ship_to,
)
from orders.models import ShipTo
from orders.records.access import get_order_for
from orders.records.forms import require_valid
from orders.requests.actions import DECIDERS, LIFTS_LIMITS, decline_request, release_request
from orders.requests.forms import DecisionForm, PlaceForm
from orders.requests.waiting import (
    count_waiting,
    customer_questions,
    freight_zones,
    ordered_unreviewed,
    questions,
    requests,
    waiting_places,
    with_what_to_look_at,
)

REQUESTS_A_PAGE = 20


@role_required(*DECIDERS)
@require_safe
def requests_waiting(request: HttpRequest) -> HttpResponse:
    """What each may decide: requests, recipes under orders, questions, addresses."""
    user = signed_in(request)
    answers, may_review = has_role(user, *LIFTS_LIMITS), has_role(user, *REVIEWERS)
    context = {
        "page": page_of(
            requests(),
            request.GET.get("page"),
            per_page=REQUESTS_A_PAGE,
            read=with_what_to_look_at,
        ),
        "counts": count_waiting(user),
        "unreviewed": ordered_unreviewed(),
        "questions": questions(),
        "customer_questions": customer_questions() if answers else (),
        "places": waiting_places() if answers else (),
        "zones": freight_zones() if answers else (),
        "may_review": may_review,
        "lifts_limits": answers,
    }
    return render(request, "orders/requests/waiting.html", context)


@role_required(*DECIDERS)
@require_POST
def request_decide(request: HttpRequest, number: str) -> HttpResponse:
    """Release a request, with the review of its recipes where that was read, or decline it."""
    user = signed_in(request)
    order = get_order_for(user, number)
    word = require_valid(DecisionForm(request.POST))
    if word["decision"] == "decline":
        decline_request(order=order, acting_user=user, why=word["why"])
        messages.success(request, _("{number} is declined.").format(number=number))
    else:
        release_request(
            order=order,
            acting_user=user,
            why=word["why"],
            reviewing=word["reviewing"],
            seen_event=word["seen_event"],
        )
        messages.success(request, _("{number} is an order now.").format(number=number))
    return redirect("requests_waiting")


@role_required(*KEEPS_CUSTOMERS)
@require_POST
def place_decide(request: HttpRequest, pk: int) -> HttpResponse:
    """An address a customer named is delivered to, in a zone, or is not."""
    user = signed_in(request)
    ship_to = get_object_or_404(ShipTo.objects.visible_to(user), pk=pk)
    word = require_valid(PlaceForm(request.POST))
    if word["decision"] == "decline":
        decline_own_ship_to(ship_to=ship_to, acting_user=user, why=word["why"])
        told = _("{label} of {company} is not delivered to; the customer reads why.")
    else:
        confirm_own_ship_to(ship_to=ship_to, acting_user=user, zone=word["zone"])
        told = _("{label} of {company} can be ordered to now.")
    messages.success(request, told.format(label=ship_to.label, company=ship_to.company))
    return redirect("requests_waiting")
