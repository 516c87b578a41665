"""The charging screen of a batch: weigh, save, correct, reverse an entry."""

from typing import Any

from django.conf import settings
from django.contrib import messages
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.template.loader import render_to_string
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from blendshop.accounts.signed_in import signed_in
from blendshop.errors import BadInput, DomainError
from blendshop.figures.readers import reader
from blendshop.roles import STAFF, has_role, role_required
from orders.models import Batch, TargetChange
from orders.production.actions.batches import mark_made
from orders.production.actions.charging import CHARGERS, charge_lot, reverse_charge
from orders.production.actions.corrections import (
    LOWERERS,
    accept_correction,
    accept_lot,
    accept_lower_promise,
)
from orders.production.charging_page import charging_page, fresh_key
from orders.production.confirmations import Unconfirmed
from orders.production.forms import (
    ChargeForm,
    CorrectionForm,
    LotForm,
    LowerPromiseForm,
    ReverseForm,
    TakeLotForm,
)
from orders.production.new_targets import lot_answer
from orders.production.steps import batch_steps
from orders.records.access import get_batch_for
from orders.records.forms import require_valid


@role_required(*STAFF)
@require_http_methods(["GET", "HEAD", "POST"])
def batch_charge(request: HttpRequest, number: str) -> HttpResponse:
    """The screen; a POST saves one weight, as a form or from the page's own queue."""
    batch = get_batch_for(signed_in(request), number)
    if request.method != "POST":
        return render(request, "orders/production/charging_screen.html", _context(request, batch))
    wants_json = request.headers.get("Accept") == "application/json"
    try:
        _charge(request, batch, must_be_signed=wants_json)
    except DomainError as refused:
        if wants_json:
            return _refused_json(refused)
        return _screen_again(request, batch, refused)
    batch.refresh_from_db()
    if wants_json:
        html = render_to_string(
            "orders/production/charging_body.html", _context(request, batch), request
        )
        return JsonResponse({"saved": True, "key": request.POST["key"], "html": html})
    return redirect("batch_charge", number)


@role_required(*STAFF)
@require_safe
def charging_worker(request: HttpRequest) -> HttpResponse:
    """The script that keeps charging screens on the tablet; it may only see ``/batches/``."""
    context = {"files": settings.STATIC_URL}
    response = render(
        request, "orders/production/charging_worker.js", context, content_type="text/javascript"
    )
    response["Cache-Control"] = "no-cache"
    return response


def _charge(request: HttpRequest, batch: Batch, *, must_be_signed: bool) -> None:
    """A weight from a tablet's queue says who typed it; a form is typed by who sends it."""
    wanted = require_valid(ChargeForm(request.POST))
    if must_be_signed and wanted["person"] is None:
        raise BadInput(_("It is not known who typed this weight; type it again."))
    charge_lot(
        batch=batch,
        step=wanted["step"],
        lot=wanted["lot"],
        mass_lb=wanted["mass_lb"],
        weighed_at=wanted["weighed_at"],
        key=wanted["key"],
        acting_user=signed_in(request),
        typed_by=wanted["person"],
        seen_lb=wanted["charged_lb"],
        confirmed=wanted["confirmed"],
    )


def _refused_json(refused: DomainError) -> JsonResponse:
    """The sentence, and where a person may say yes to it: which questions, about how much."""
    message = " ".join(dict.fromkeys([refused.message, *refused.fields.values()]))
    said: dict[str, Any] = {"saved": False, "message": message}
    if isinstance(refused, Unconfirmed):
        said["confirm"] = [each.question for each in refused.asked]
        said["charged_lb"] = str(refused.charged_lb)
    return JsonResponse(said, status=refused.status)


def _screen_again(request: HttpRequest, batch: Batch, refused: DomainError) -> HttpResponse:
    """The weight's own step with what was typed and the reason, which has the focus."""
    batch.refresh_from_db()
    typed = request.POST
    context = _context(request, batch, step=typed.get("step", ""))
    context |= {
        "refused": refused,
        "asked": refused.asked if isinstance(refused, Unconfirmed) else (),
        # Still what was seen: only the ticked question puts what is in by now in its place.
        "seen_lb": typed.get("charged_lb", "0"),
        "typed": {name: typed.get(name, "") for name in ("lot", "chosen_lot", "mass_lb")},
        "key": typed.get("key") or context["key"],
    }
    return render(request, "orders/production/charging_screen.html", context, status=refused.status)


def _context(request: HttpRequest, batch: Batch, step: str | None = None) -> dict[str, Any]:
    user = signed_in(request)
    wanted = request.GET.get("step", "") if step is None else step
    number = int(wanted) if wanted.isascii() and wanted.isdigit() and len(wanted) < 4 else None
    context = charging_page(batch, user, timezone.localdate(), wanted_step=number)
    context["may_lower"] = has_role(user, *LOWERERS)
    context["lower_form"] = LowerPromiseForm(auto_id="lower_%s")
    context["may_reverse"] = has_role(user, *CHARGERS) and batch.status in (
        Batch.Status.CHARGING,
        Batch.Status.MADE,
        Batch.Status.HELD,
    )
    return context


def _form_again(
    request: HttpRequest, number: str, name: str, refused: DomainError, **more: Any
) -> HttpResponse:
    """The screen with the reason beside the form that was refused, and what was typed in it."""
    batch = get_batch_for(signed_in(request), number)
    context = _context(request, batch, step="") | {"refusals": {name: refused}} | more
    return render(request, "orders/production/charging_screen.html", context, status=refused.status)


@role_required(*CHARGERS)
@require_POST
def batch_reverse_charge(request: HttpRequest, number: str) -> HttpResponse:
    """A charge that was written down wrongly counts no more."""
    user = signed_in(request)
    batch = get_batch_for(user, number)
    form = ReverseForm(request.POST)
    try:
        wanted = require_valid(form)
        charge = get_object_or_404(
            batch.charges.select_related("lot", "batch"), pk=wanted["charge"]
        )
        reverse_charge(charge=charge, why=wanted["why"], key=wanted["key"], acting_user=user)
    except DomainError as refused:
        return _form_again(request, number, "reverse", refused, reverse_form=form)
    messages.success(
        request,
        _("%(mass_lb)s of %(lot)s reversed.")
        % {"mass_lb": reader().weighed(charge.mass_lb), "lot": charge.lot or charge.stock},
    )
    return redirect("batch_charge", number)


@role_required(*CHARGERS)
@require_POST
def batch_correct(request: HttpRequest, number: str) -> HttpResponse:
    """Accept the correction that was shown."""
    user = signed_in(request)
    batch = get_batch_for(user, number)
    try:
        wanted = require_valid(CorrectionForm(request.POST))
        accepted = accept_correction(
            batch=batch, seen=wanted["seen"], key=wanted["key"], acting_user=user
        )
    except DomainError as refused:
        return _form_again(request, number, "correction", refused)
    changed = sum(1 for each in accepted if isinstance(each, TargetChange))
    added = len(accepted) - changed
    if changed:
        messages.success(
            request,
            _("%(changed)s weighings still to come have a new target.") % {"changed": changed},
        )
    if added:
        messages.success(
            request, _("%(added)s weighings are added behind the plan.") % {"added": added}
        )
    return redirect("batch_charge", number)


@role_required(*CHARGERS)
@require_http_methods(["GET", "HEAD", "POST"])
def batch_lot(request: HttpRequest, number: str) -> HttpResponse:
    """What to take of a scanned lot, for the page's script; a POST accepts the targets shown."""
    user = signed_in(request)
    batch = get_batch_for(user, number)
    if request.method == "POST":
        try:
            wanted = require_valid(TakeLotForm(request.POST))
            accept_lot(batch=batch, acting_user=user, **wanted)
        except DomainError as refused:
            return _form_again(request, number, "lot", refused)
        messages.success(
            request, _("The weighings still to come count on %(lot)s.") % {"lot": wanted["lot"]}
        )
        return redirect("batch_charge", number)
    asked = require_valid(LotForm(request.GET))
    steps = batch_steps(batch)
    step = next((each for each in steps if each.number == asked["step"]), None)
    answer = None
    if step is not None and step.code == asked["lot"].stock.code:
        answer = lot_answer(batch, steps, step, asked["lot"], timezone.localdate())
    context = {"batch": batch, "answer": answer, "step": step, "lot": asked["lot"]}
    context["key"] = fresh_key()
    return render(request, "orders/production/lot_answer.html", context)


@role_required(*LOWERERS)
@require_POST
def batch_lower(request: HttpRequest, number: str) -> HttpResponse:
    """Sell the tank as the lower grade that was shown."""
    user = signed_in(request)
    batch = get_batch_for(user, number)
    form = LowerPromiseForm(request.POST, auto_id="lower_%s")
    try:
        wanted = require_valid(form)
        lowered = accept_lower_promise(batch=batch, acting_user=user, **wanted)
    except DomainError as refused:
        return _form_again(request, number, "lower", refused, lower_form=form)
    messages.success(
        request,
        _("%(number)s is sold as %(grade)s from now on.")
        % {"number": number, "grade": lowered.grade},
    )
    return redirect("batch_charge", number)


@role_required(*CHARGERS)
@require_POST
def batch_made(request: HttpRequest, number: str) -> HttpResponse:
    """Everything is in: the batch is mixed."""
    user = signed_in(request)
    try:
        mark_made(batch=get_batch_for(user, number), acting_user=user)
    except DomainError as refused:
        return _form_again(request, number, "made", refused)
    messages.success(
        request, _("%(number)s is made. It leaves only after its release.") % {"number": number}
    )
    return redirect("batch_detail", number)
