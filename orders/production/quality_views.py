"""Quality readings of a batch, its release, its packages and its close-out."""

from decimal import Decimal
from typing import Any

from django import forms
from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from blendshop.accounts.models import User
from blendshop.accounts.signed_in import signed_in
from blendshop.figures.readers import reader
from blendshop.roles import STAFF, Role, has_role, role_required
from orders.inventory.holds import hold_words_by_batch
from orders.models import Batch, BatchClosing, BatchPart, PackageSerial, QualityReading
from orders.production.actions.batches import RELEASERS, release_batch
from orders.production.actions.packaging import (
    PACKERS,
    charged_or_planned_lb,
    close_batch,
    fill_packages,
    filled_lb,
    heel_in_lb,
    stays_in_tank_lb,
)
from orders.production.actions.quality import (
    ADOPTERS,
    JUDGES,
    READERS,
    adopt_density,
    record_reading,
    set_aside_reading,
)
from orders.production.charging_page import fresh_key, made_rows
from orders.production.density_read import counting_reading
from orders.production.filling import filling_parts
from orders.production.forms import (
    CloseForm,
    FillForm,
    KeyForm,
    ReadingForm,
    ReleaseForm,
    SetAsideForm,
)
from orders.production.made_record import made_record
from orders.production.release_checks import Reading, release_hindrances
from orders.production.sold_as import batch_grade
from orders.records.access import get_batch_for
from orders.records.forms import Refusals, require_valid
from orders.tanks.actions.rinsing import Rinse, record_rinse
from orders.tanks.forms import RinseForm
from orders.tanks.heel import holds_batch


@role_required(*STAFF)
@require_http_methods(["GET", "HEAD", "POST"])
def batch_quality(request: HttpRequest, number: str) -> HttpResponse:
    """Readings against the plan's windows, and the release."""
    batch = get_batch_for(signed_in(request), number)
    if request.method != "POST":
        return _quality_page(request, batch)
    form = ReadingForm(request.POST)
    refusals = Refusals(form)
    if refusals.taken(lambda wanted: _record(request, batch, **wanted)):
        return redirect("batch_quality", number)
    return _quality_page(request, batch, status=refusals.status, form=form)


def _quality_page(
    request: HttpRequest,
    batch: Batch,
    *,
    status: int = 200,
    form: forms.Form | None = None,
    release_form: forms.Form | None = None,
    set_aside_form: forms.Form | None = None,
) -> HttpResponse:
    """The page; a form that was refused stands in it as it was typed."""
    user = signed_in(request)
    takes = batch.status in (Batch.Status.MADE, Batch.Status.HELD)
    record = made_record(batch)
    counting = record.reading
    readings = batch.readings.select_related("adopted", "set_aside").order_by("-pk")
    context = {
        "batch": batch,
        "plan": batch.load_plan,
        "form": (form or ReadingForm(initial={"key": fresh_key()}))
        if takes and has_role(user, *READERS)
        else None,
        "readings": [
            (reading, _set_aside_form(reading, set_aside_form) if _may_judge(user) else None)
            for reading in readings
        ],
        "refused": form or release_form or set_aside_form,
        "counting": counting,
        "grade": batch_grade(record),
        "as_made": made_rows(record.made),
        "on_hold": hold_words_by_batch([batch.pk]).get(batch.pk, ""),
        "hindrances": release_hindrances(batch) if takes else [],
        "may_release": has_role(user, *RELEASERS) and takes,
        "is_formulator": has_role(user, Role.FORMULATOR),
        "may_adopt": has_role(user, *ADOPTERS) and batch.status == Batch.Status.RELEASED,
        "release_form": release_form or _release_form(batch),
        "key": fresh_key(),
    }
    return render(request, "orders/production/quality_readings.html", context, status=status)


def _may_judge(user: Any) -> bool:
    return has_role(user, *JUDGES)


def _set_aside_form(reading: QualityReading, typed: forms.Form | None) -> forms.Form | None:
    """The form to set a reading aside, as typed where it is that reading's; None when it is."""
    if hasattr(reading, "set_aside"):
        return None
    if typed is not None and typed.data.get("reading") == str(reading.pk):
        return typed
    initial = {"key": fresh_key(), "reading": reading.pk}
    return SetAsideForm(initial=initial, auto_id=f"aside-{reading.pk}_%s")


def _release_form(batch: Batch, typed: Any = None) -> ReleaseForm:
    counting = counting_reading(batch)
    is_outside = counting is not None and not counting.is_inside
    return ReleaseForm(typed, auto_id="release_%s", about_reading=is_outside)


def _record(
    request: HttpRequest, batch: Batch, *, key: str, lab_figures: dict[str, float], **read: Any
) -> None:
    written = record_reading(
        batch=batch,
        reading=Reading(**read, lab_analysis=lab_figures),
        key=key,
        acting_user=signed_in(request),
    )
    if written.is_inside:
        messages.success(request, _("Everything read lies inside its window."))
    else:
        told = " ".join(written.findings)
        messages.warning(
            request,
            _("%(told)s %(batch)s is held; a formulator decides.")
            % {"told": told, "batch": batch.number},
        )


@role_required(*RELEASERS)
@require_POST
def batch_release(request: HttpRequest, number: str) -> HttpResponse:
    """The batch may leave; what stands in the way asks for a formulator's reason."""
    user = signed_in(request)
    batch = get_batch_for(user, number)
    form = _release_form(batch, request.POST)
    refusals = Refusals(form)
    if refusals.taken(lambda wanted: release_batch(batch=batch, acting_user=user, **wanted)):
        messages.success(request, _("%(number)s is released.") % {"number": number})
        return redirect("batch_detail", number)
    return _quality_page(request, batch, status=refusals.status, release_form=form)


@role_required(*JUDGES)
@require_POST
def batch_set_aside(request: HttpRequest, number: str) -> HttpResponse:
    """A reading that was wrong counts no more."""
    user = signed_in(request)
    batch = get_batch_for(user, number)
    pk = request.POST.get("reading", "")
    form = SetAsideForm(request.POST, auto_id=f"aside-{pk}_%s")
    refusals = Refusals(form)
    if refusals.taken(lambda wanted: _set_aside(batch, user, **wanted)):
        messages.success(request, _("The reading is set aside; it counts no more."))
        return redirect("batch_quality", number)
    return _quality_page(request, batch, status=refusals.status, set_aside_form=form)


def _set_aside(batch: Batch, user: User, *, reading: int, why: str, key: str) -> None:
    row = get_object_or_404(batch.readings, pk=reading)
    set_aside_reading(reading=row, why=why, key=key, acting_user=user)


@role_required(*ADOPTERS)
@require_POST
def batch_adopt_density(request: HttpRequest, number: str) -> HttpResponse:
    """The newest counting reading's density is what later plans of the blend expect."""
    user = signed_in(request)
    batch = get_batch_for(user, number)
    key = require_valid(KeyForm(request.POST))["key"]
    reading = counting_reading(batch)
    if reading is None:
        raise Http404("No reading counts.")
    adopted = adopt_density(reading=reading, key=key, acting_user=user)
    messages.success(
        request,
        _("%(revision)s expects %(density_lb_per_gal)s from now on.")
        % {
            "revision": adopted.revision,
            "density_lb_per_gal": reader().density(adopted.density_lb_per_gal),
        },
    )
    return redirect("batch_quality", number)


@role_required(*STAFF)
@require_http_methods(["GET", "HEAD", "POST"])
def batch_packages(request: HttpRequest, number: str) -> HttpResponse:
    """Fill packages with serials; then the balance and the rinse."""
    user = signed_in(request)
    batch = get_batch_for(user, number)
    if request.method != "POST":
        return _packages_page(request, batch)
    form = FillForm(request.POST, parts=batch.parts.all())
    refusals = Refusals(form)
    if refusals.taken(lambda wanted: _fill(request, user, **wanted)):
        return redirect("batch_packages", number)
    return _packages_page(request, batch, status=refusals.status, fill_form=form)


def _fill(
    request: HttpRequest, user: User, *, part: BatchPart, net_lb: Decimal, count: int, key: str
) -> None:
    filled = fill_packages(part=part, net_lb=[net_lb] * count, key=key, acting_user=user)
    messages.success(
        request,
        _("Filled: %(first)s to %(last)s.")
        % {"first": filled[0].serial, "last": filled[-1].serial},
    )


def _packages_page(
    request: HttpRequest, batch: Batch, *, status: int = 200, **typed: forms.Form
) -> HttpResponse:
    """The page; ``typed`` is the form that was refused, by its name there."""
    context = {
        **_packages(batch, request),
        "refused": next(iter(typed.values()), None),
        **typed,
    }
    return render(request, "orders/production/charging_packages.html", context, status=status)


def _packages(batch: Batch, request: HttpRequest) -> dict[str, Any]:
    charged, heel_in, filled = charged_or_planned_lb(batch), heel_in_lb(batch), filled_lb(batch)
    parts = filling_parts(batch, charged + heel_in, stays_in_tank_lb(batch))
    fill = next((part for part in parts if part.to_fill), parts[-1])
    closing = BatchClosing.objects.filter(batch=batch).first()
    return {
        "batch": batch,
        "plan": batch.load_plan,
        "parts": parts,
        "on_hold": hold_words_by_batch([batch.pk]).get(batch.pk, ""),
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
    batch = get_batch_for(user, number)
    form = CloseForm(request.POST, auto_id="close_%s")
    refusals = Refusals(form)
    if refusals.taken(lambda wanted: close_batch(batch=batch, acting_user=user, **wanted)):
        messages.success(request, _("%(number)s is closed.") % {"number": number})
        return redirect("batch_packages", number)
    return _packages_page(request, batch, status=refusals.status, close_form=form)


@role_required(*PACKERS)
@require_POST
def batch_rinse(request: HttpRequest, number: str) -> HttpResponse:
    user = signed_in(request)
    batch = get_batch_for(user, number)
    form = RinseForm(request.POST, auto_id="rinse_%s")
    refusals = Refusals(form)
    if refusals.taken(lambda wanted: _rinse(request, batch, **wanted)):
        return redirect("batch_packages", number)
    return _packages_page(request, batch, status=refusals.status, rinse_form=form)


def _rinse(request: HttpRequest, batch: Batch, *, key: str, **wanted: Any) -> None:
    rinse = record_rinse(
        tank=batch.tank, batch=batch, rinse=Rinse(**wanted), key=key, acting_user=signed_in(request)
    )
    told = _("Rinse of %(tank)s written down.") % {"tank": rinse.tank}
    if rinse.lot:
        kept = _("The water is lot %(lot)s, held until it is assayed.") % {"lot": rinse.lot}
        told = f"{told} {kept}"
    messages.success(request, told)
