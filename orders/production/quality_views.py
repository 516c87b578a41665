"""Quality readings of a batch, its packages and its close-out."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from blendshop.accounts.signed_in import signed_in
from blendshop.errors import BadInput
from blendshop.figures.readers import reader
from blendshop.roles import STAFF, Role, has_role, role_required
from orders.models import Batch, BatchClosing, PackageSerial
from orders.production.actions.batches import RELEASERS
from orders.production.actions.packaging import (
    PACKERS,
    charged_or_planned_lb,
    close_batch,
    fill_packages,
    filled_lb,
    heel_in_lb,
)
from orders.production.actions.quality import ADOPTERS, READERS, adopt_density, record_reading
from orders.production.as_made import as_made
from orders.production.charging_page import fresh_key, made_rows
from orders.production.filling import filling_parts
from orders.production.forms import CloseForm, FillForm, KeyForm, ReadingForm
from orders.production.release_checks import Reading, release_hindrances
from orders.production.steps import batch_steps
from orders.records.access import get_batch_for
from orders.records.forms import ReasonForm, require_valid
from orders.tanks.actions.rinsing import Rinse, record_rinse
from orders.tanks.forms import RinseForm
from orders.tanks.heel import holds_batch


@role_required(*STAFF)
@require_http_methods(["GET", "HEAD", "POST"])
def batch_quality(request: HttpRequest, number: str) -> HttpResponse:
    """Readings against the plan's windows, and the release."""
    user = signed_in(request)
    batch = get_batch_for(user, number)
    form = ReadingForm(request.POST or None, initial={"key": fresh_key(), "appearance": "clear"})
    status = 200
    if request.method == "POST":
        status = 400
        if form.is_valid() and _recorded(request, batch, form):
            return redirect("batch_quality", number)
    takes = batch.status in (Batch.Status.MADE, Batch.Status.HELD)
    context = {
        "batch": batch,
        "plan": batch.load_plan,
        "form": form if takes and has_role(user, *READERS) else None,
        "readings": batch.readings.select_related("adopted").order_by("-pk"),
        "as_made": made_rows(as_made(batch, batch_steps(batch))),
        "hindrances": release_hindrances(batch) if takes else [],
        "may_release": has_role(user, *RELEASERS) and takes,
        "is_formulator": has_role(user, Role.FORMULATOR),
        "may_adopt": has_role(user, *ADOPTERS) and batch.status == Batch.Status.RELEASED,
        "release_form": ReasonForm(auto_id="release_%s"),
        "key": fresh_key(),
    }
    return render(request, "orders/production/quality_readings.html", context, status=status)


def _recorded(request: HttpRequest, batch: Batch, form: ReadingForm) -> bool:
    """Save the reading; False, with the form's errors filled in, when it is refused."""
    wanted = dict(form.cleaned_data)
    key, lab = wanted.pop("key"), wanted.pop("lab_figures")
    try:
        written = record_reading(
            batch=batch,
            reading=Reading(**wanted, lab_analysis=lab),
            key=key,
            acting_user=signed_in(request),
        )
    except BadInput as refused:
        for name, message in refused.fields.items():
            form.add_error(name if name in form.fields else None, message)
        return False
    if written.is_inside:
        messages.success(request, "Everything read lies inside its window.")
    else:
        told = " ".join(written.findings)
        messages.warning(request, f"{told} {batch.number} is held; a formulator decides.")
    return True


@role_required(*ADOPTERS)
@require_POST
def batch_adopt_density(request: HttpRequest, number: str) -> HttpResponse:
    """The newest reading's density is what later plans of the blend expect."""
    user = signed_in(request)
    batch = get_batch_for(user, number)
    key = require_valid(KeyForm(request.POST))["key"]
    reading = get_object_or_404(batch.readings.order_by("-pk")[:1])
    adopted = adopt_density(reading=reading, key=key, acting_user=user)
    messages.success(
        request,
        f"{adopted.revision} expects {reader().density(adopted.density_lb_per_gal)} from now on.",
    )
    return redirect("batch_quality", number)


@role_required(*STAFF)
@require_http_methods(["GET", "HEAD", "POST"])
def batch_packages(request: HttpRequest, number: str) -> HttpResponse:
    """Fill packages with serials; then the balance and the rinse."""
    user = signed_in(request)
    batch = get_batch_for(user, number)
    if request.method == "POST":
        wanted = require_valid(FillForm(request.POST, parts=batch.parts.all()))
        filled = fill_packages(
            part=wanted["part"],
            net_lb=[wanted["net_lb"]] * wanted["count"],
            key=wanted["key"],
            acting_user=user,
        )
        messages.success(request, f"Filled: {filled[0].serial} to {filled[-1].serial}.")
        return redirect("batch_packages", number)
    return render(request, "orders/production/charging_packages.html", _packages(batch, request))


def _packages(batch: Batch, request: HttpRequest) -> dict[str, Any]:
    charged, heel_in, filled = charged_or_planned_lb(batch), heel_in_lb(batch), filled_lb(batch)
    parts = filling_parts(batch, charged + heel_in)
    fill = next((part for part in parts if part.to_fill), parts[-1])
    closing = BatchClosing.objects.filter(batch=batch).first()
    return {
        "batch": batch,
        "plan": batch.load_plan,
        "parts": parts,
        "all_filled": not any(part.to_fill for part in parts),
        "packages": PackageSerial.objects.filter(part__batch=batch).select_related("part"),
        "charged": charged,
        "filled": filled,
        "heel_in": heel_in,
        "left": charged + heel_in - filled,
        "closing": closing,
        "rinses": batch.rinses.select_related("lot").order_by("pk"),
        "holds_it": holds_batch(batch),
        "may_pack": has_role(signed_in(request), *PACKERS),
        "fill_form": FillForm(initial=fill.as_asked(), parts=batch.parts.all()),
        "close_form": CloseForm(initial={"key": fresh_key()}, auto_id="close_%s"),
        "rinse_form": RinseForm(auto_id="rinse_%s"),
    }


@role_required(*PACKERS)
@require_POST
def batch_close(request: HttpRequest, number: str) -> HttpResponse:
    user = signed_in(request)
    wanted = require_valid(CloseForm(request.POST))
    close_batch(
        batch=get_batch_for(user, number),
        why=wanted["why"],
        heel_lb=wanted["heel_lb"],
        key=wanted["key"],
        acting_user=user,
    )
    messages.success(request, f"{number} is closed.")
    return redirect("batch_packages", number)


@role_required(*PACKERS)
@require_POST
def batch_rinse(request: HttpRequest, number: str) -> HttpResponse:
    user = signed_in(request)
    wanted = dict(require_valid(RinseForm(request.POST)))
    key = wanted.pop("key")
    batch = get_batch_for(user, number)
    rinse = record_rinse(
        tank=batch.tank, batch=batch, rinse=Rinse(**wanted), key=key, acting_user=user
    )
    where = f" The water is lot {rinse.lot}, held until it is assayed." if rinse.lot else ""
    messages.success(request, f"Rinse of {rinse.tank} written down.{where}")
    return redirect("batch_packages", number)
