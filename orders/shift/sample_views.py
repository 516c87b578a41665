"""Pages of the retained samples: all of them, those of one batch."""

from typing import Final

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from blendshop.accounts.signed_in import signed_in
from blendshop.roles import STAFF, has_role, require_role, role_required
from orders.models import RetainedSample
from orders.records.access import get_batch_for
from orders.records.forms import Refusals
from orders.shift.actions.samples import SAMPLERS, Taken, discard_sample, take_sample
from orders.shift.forms import DiscardForm, SampleForm
from orders.shift.samples import samples_today

SAMPLES_A_PAGE: Final = 50


@role_required(*STAFF)
@require_safe
def sample_list(request: HttpRequest) -> HttpResponse:
    """What may be thrown out, which released batches have no sample, what is kept."""
    kept = RetainedSample.objects.filter(discarded__isnull=True).select_related("batch")
    page = Paginator(kept.order_by("keep_until", "pk"), SAMPLES_A_PAGE)
    context = {
        "samples": samples_today(timezone.localdate()),
        "page": page.get_page(request.GET.get("page")),
        "today": timezone.localdate(),
    }
    return render(request, "orders/shift/sample_list.html", context)


@role_required(*STAFF)
@require_http_methods(["GET", "HEAD", "POST"])
def batch_sample(request: HttpRequest, number: str) -> HttpResponse:
    """Samples of one batch, and the form that writes one down."""
    user = signed_in(request)
    batch = get_batch_for(user, number)
    form, status = SampleForm(), 200
    if request.method == "POST":
        require_role(user, *SAMPLERS)
        form = SampleForm(request.POST)
        refusals = Refusals(form)
        if form.is_valid():
            with refusals:
                typed = dict(form.cleaned_data)
                key = typed.pop("key")
                take_sample(batch=batch, taken=Taken(**typed), key=key, acting_user=user)
                messages.success(request, _("The sample of %s is written down.") % number)
                return redirect("batch_sample", number)
        status = refusals.status
    context = {
        "batch": batch,
        "asked": batch.load_plan.retained_sample,
        "samples": batch.samples.select_related("discarded").order_by("-pk"),
        "form": form,
        "may_take": has_role(user, *SAMPLERS),
    }
    return render(request, "orders/shift/batch_sample.html", context, status=status)


@role_required(*SAMPLERS)
@require_http_methods(["GET", "HEAD", "POST"])
def sample_discard(request: HttpRequest, pk: int) -> HttpResponse:
    """Throw one sample out, with the reason."""
    sample = get_object_or_404(RetainedSample.objects.select_related("batch"), pk=pk)
    form, status = DiscardForm(initial={"why": _("Kept its time.")}), 200
    if request.method == "POST":
        form = DiscardForm(request.POST)
        refusals = Refusals(form)
        if form.is_valid():
            with refusals:
                discard_sample(sample=sample, acting_user=signed_in(request), **form.cleaned_data)
                messages.success(request, _("The sample is written off."))
                return redirect("sample_list")
        status = refusals.status
    context = {"sample": sample, "form": form, "today": timezone.localdate()}
    return render(request, "orders/shift/sample_discard.html", context, status=status)
