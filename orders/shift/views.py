"""The day, what a shift signs and hands over, and what a tablet says by itself."""

from typing import Final

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from blendshop.accounts.signed_in import signed_in
from blendshop.roles import STAFF, has_role, require_role, role_required
from formulas.engine_bridge import saved_rules
from orders.models import HandoverNote, Tank, TankCleaning, UnsentWeights
from orders.planning.tank_sequence import tank_sequence
from orders.production.actions.charging import CHARGERS
from orders.records.forms import Refusals, require_valid
from orders.scales.actions import VERIFIERS
from orders.shift.actions.cleaning import SIGNERS, after_words, sign_cleaning
from orders.shift.actions.handover import DAY_ROLES, mark_read, write_note
from orders.shift.actions.unsent import report_unsent, settle_unsent
from orders.shift.forms import CleaningForm, NoteForm, UnsentForm
from orders.shift.handover import as_seen
from orders.shift.page import day_page, undone_today
from orders.tanks.heel import newest_entry
from orders.tanks.page import tank_now

ROWS_A_PAGE: Final = 30


@role_required(*DAY_ROLES)
@require_safe
def the_day(request: HttpRequest) -> HttpResponse:
    """What each tank does today, what is due, short and left undone."""
    context = day_page(signed_in(request), timezone.localdate())
    return render(request, "orders/shift/the_day.html", context)


@role_required(*DAY_ROLES)
@require_safe
def day_undone(request: HttpRequest) -> HttpResponse:
    """Everything left undone, in the order the work goes on."""
    page = Paginator(undone_today(), ROWS_A_PAGE).get_page(request.GET.get("page"))
    context = {"page": page, "may_sign": has_role(signed_in(request), *VERIFIERS)}
    return render(request, "orders/shift/day_undone.html", context)


@role_required(*DAY_ROLES)
@require_http_methods(["GET", "HEAD", "POST"])
def handover_notes(request: HttpRequest) -> HttpResponse:
    """Every note, newest first; a POST adds one."""
    user = signed_in(request)
    form, status = NoteForm(auto_id="note_%s"), 200
    if request.method == "POST":
        form = NoteForm(request.POST, auto_id="note_%s")
        refusals = Refusals(form)
        if form.is_valid():
            with refusals:
                write_note(acting_user=user, **form.cleaned_data)
                return redirect("the_day")
        status = refusals.status
    notes = HandoverNote.objects.order_by("-pk")
    page = Paginator(notes, ROWS_A_PAGE).get_page(request.GET.get("page"))
    context = {"page": page, "notes": as_seen(page.object_list, user), "note_form": form}
    return render(request, "orders/shift/handover_notes.html", context, status=status)


@role_required(*DAY_ROLES)
@require_POST
def handover_read(request: HttpRequest, pk: int) -> HttpResponse:
    mark_read(note=get_object_or_404(HandoverNote, pk=pk), acting_user=signed_in(request))
    return redirect("the_day")


@role_required(*STAFF)
@require_http_methods(["GET", "HEAD", "POST"])
def tank_cleaning(request: HttpRequest, pk: int) -> HttpResponse:
    """Sign that a tank was cleaned; what was signed before."""
    user, tank = signed_in(request), get_object_or_404(Tank, pk=pk)
    entry = newest_entry(tank)
    seen = {"seen_entry": entry.pk if entry else None}
    form, status = CleaningForm(initial=seen), 200
    if request.method == "POST":
        require_role(user, *SIGNERS)
        form = CleaningForm(request.POST)
        refusals = Refusals(form)
        if form.is_valid():
            with refusals:
                sign_cleaning(tank=tank, acting_user=user, **form.cleaned_data)
                messages.success(request, _("The cleaning of %s is signed.") % tank.name)
                return redirect("tank_cleaning", pk)
        status = refusals.status
    changes = tank_sequence(tank, saved_rules()).changes
    rows = TankCleaning.objects.filter(tank=tank).select_related("before").order_by("-pk")
    context = {
        "tank": tank,
        "now": tank_now(tank, entry),
        "after": after_words(entry),
        "next": changes[0] if changes else None,
        "form": form,
        "may_sign": has_role(user, *SIGNERS),
        "page": Paginator(rows, ROWS_A_PAGE).get_page(request.GET.get("page")),
    }
    return render(request, "orders/shift/tank_cleaning.html", context, status=status)


@role_required(*CHARGERS)
@require_POST
def unsent_report(request: HttpRequest) -> HttpResponse:
    """What a tablet has still to send of the weights of whoever is signed in on it."""
    wanted = require_valid(UnsentForm(request.POST))
    report_unsent(acting_user=signed_in(request), **wanted)
    return HttpResponse(status=204)


@role_required(*CHARGERS)
@require_POST
def unsent_settle(request: HttpRequest, pk: int) -> HttpResponse:
    report = get_object_or_404(UnsentWeights.objects.select_related("batch", "by"), pk=pk)
    settle_unsent(report=report, acting_user=signed_in(request))
    return redirect("the_day")
