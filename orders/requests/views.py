"""The page of what waits, and the word on each request."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from blendshop.accounts.signed_in import signed_in
from blendshop.pages import page_of
from blendshop.roles import has_role, role_required
from formulas.blends.reviews import REVIEWERS
from orders.records.access import get_order_for
from orders.records.forms import require_valid
from orders.requests.actions import DECIDERS, LIFTS_LIMITS, decline_request, release_request
from orders.requests.forms import DecisionForm
from orders.requests.waiting import (
    ordered_unreviewed,
    questions,
    requests,
    with_what_to_look_at,
)

REQUESTS_A_PAGE = 20


@role_required(*DECIDERS)
@require_safe
def requests_waiting(request: HttpRequest) -> HttpResponse:
    """Requests first, then recipes that are under orders already, then questions."""
    user = signed_in(request)
    context = {
        "page": page_of(
            requests(),
            request.GET.get("page"),
            per_page=REQUESTS_A_PAGE,
            read=with_what_to_look_at,
        ),
        "unreviewed": ordered_unreviewed(),
        "questions": questions(),
        "may_review": has_role(user, *REVIEWERS),
        "lifts_limits": has_role(user, *LIFTS_LIMITS),
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
