"""Reserving a season, giving it back, and releasing one round."""

from __future__ import annotations

import uuid

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from blendshop.accounts.models import User
from blendshop.accounts.signed_in import signed_in
from blendshop.errors import BadInput, ChangedMeanwhile
from blendshop.roles import role_required
from orders.models import Order, ProgramRound
from orders.planning.due_dates import FROM_STOCK
from orders.records.forms import show_refusal
from orders.reordering.actions import SaidBeside
from orders.reordering.forms import BesideForm
from orders.reordering.gate import why_request
from orders.reordering.preview import Reorder
from orders.season.access import SEES_SEASONS, get_program_for, get_round_for, may_change
from orders.season.actions.reserving import give_back, offered_round, release, reserve


@role_required(*SEES_SEASONS)
@require_POST
def season_reserve(request: HttpRequest, pk: int) -> HttpResponse:
    """Reserve the packages that were shown."""
    user = signed_in(request)
    program = get_program_for(user, pk)
    made = reserve(acting_user=user, program=program, seen=request.POST.get("seen", ""))
    messages.success(
        request,
        _("Reserved as {number}. Release each round when you want it.").format(number=made.number),
    )
    return redirect("season_program", pk)


@role_required(*SEES_SEASONS)
@require_POST
def season_give_back(request: HttpRequest, pk: int) -> HttpResponse:
    """What waits is not needed any more."""
    user = signed_in(request)
    give_back(acting_user=user, program=get_program_for(user, pk))
    messages.success(request, _("Given back; nothing of this season waits any more."))
    return redirect("season_program", pk)


@role_required(*SEES_SEASONS)
@require_http_methods(["GET", "HEAD", "POST"])
def season_release(request: HttpRequest, pk: int) -> HttpResponse:
    """What the round costs today and what has changed; one tap orders it."""
    user = signed_in(request)
    row = get_round_for(user, pk)
    if order := row.released_as:
        # The second tap, or a page that was open elsewhere: it is ordered, and that is shown.
        return redirect("order_detail", order.number)
    offer = offered_round(row)
    if request.method != "POST":
        return _shown(request, user, row, offer, BesideForm(initial=_wanted(row)))
    beside = BesideForm(request.POST)
    if not beside.is_valid():
        return _shown(request, user, row, offer, beside, status=400)
    try:
        made = release(
            acting_user=user,
            row=row,
            offer=offer,
            seen_digest=request.POST.get("seen", ""),
            once=request.POST.get("once", ""),
            terms=SaidBeside(**beside.cleaned_data),
        )
    except BadInput as refused:
        show_refusal(beside, refused)
        return _shown(request, user, row, offer, beside, status=refused.status)
    except ChangedMeanwhile as changed:
        return _shown(request, user, row, offer, beside, status=409, changed=changed.message)
    told = _("{round} is released: order {number}.")
    if made.status == Order.Status.REQUESTED:
        told = _("{round} is released; {number} is a request until somebody has looked at it.")
    messages.success(request, told.format(round=row.name, number=made.number))
    return redirect("order_detail", made.number)


def _wanted(row: ProgramRound) -> dict[str, object]:
    """The round's own day, unless it is over."""
    return {"wanted_on": row.on} if row.on >= timezone.localdate() else {}


def _shown(
    request: HttpRequest,
    user: User,
    row: ProgramRound,
    offer: Reorder,
    beside: BesideForm,
    *,
    status: int = 200,
    changed: str = "",
) -> HttpResponse:
    context = {
        "title": _("Release {name}").format(name=row.name),
        "program": row.program,
        "form": None,
        "reorder": offer,
        "held": list(why_request(offer)),
        "drafts": False,
        "may_order": may_change(user, row.program.company),
        "beside": beside,
        "once": uuid.uuid4().hex,
        "changed": changed,
        "from_stock": FROM_STOCK,
    }
    return render(request, "orders/season/season_release.html", context, status=status)
