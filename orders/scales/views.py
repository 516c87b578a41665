"""Pages of the scales: how each stands, and the form that verifies one."""

from typing import Final

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from blendshop.accounts.signed_in import signed_in
from blendshop.roles import STAFF, has_role, require_role, role_required
from formulas.engine.plant.load import ScaleKind
from orders.models import PlantProfile, ScaleVerification, Tank
from orders.records.forms import Refusals
from orders.scales.actions import VERIFIERS, record_verification
from orders.scales.forms import LOADS, VerificationForm
from orders.scales.page import tolerances
from orders.scales.standing import standings

VERIFICATIONS_A_PAGE: Final = 20


@role_required(*STAFF)
@require_safe
def scale_list(request: HttpRequest) -> HttpResponse:
    """Every scale of the tanks in use, those that stop or are due first."""
    tanks = Tank.objects.filter(active=True).order_by("name")
    context = {
        "scales": standings(tanks, timezone.localdate()),
        "interval_days": PlantProfile.load().scale_check_days,
    }
    return render(request, "orders/scales/scale_list.html", context)


@role_required(*STAFF)
@require_http_methods(["GET", "HEAD", "POST"])
def scale_check(request: HttpRequest, pk: int, scale: str) -> HttpResponse:
    """One scale: how it stands, the form to verify it, what was written down before."""
    user = signed_in(request)
    tank = get_object_or_404(Tank, pk=pk)
    kind = next((each for each in ScaleKind if each.value == scale), None)
    shown = standings([tank], timezone.localdate())
    standing = next((each for each in shown if each.kind is kind), None)
    if kind is None or standing is None:
        raise Http404("The tank has no such scale.")
    form, status = VerificationForm(), 200
    if request.method == "POST":
        require_role(user, *VERIFIERS)
        form = VerificationForm(request.POST)
        refusals = Refusals(form)
        if form.is_valid():
            with refusals:
                written = record_verification(
                    tank=tank,
                    kind=kind,
                    verified=form.verified(),
                    key=form.cleaned_data["key"],
                    acting_user=user,
                )
                _tell(request, standing.name, written)
                return redirect("scale_check", pk, scale)
        status = refusals.status
    rows = ScaleVerification.objects.filter(tank=tank, scale=scale).order_by("-checked_at", "-pk")
    context = {
        "scale": standing,
        "tolerances": tolerances(standing),
        "page": Paginator(rows, VERIFICATIONS_A_PAGE).get_page(request.GET.get("page")),
        "form": form,
        "lines": [(form[f"load_{each}"], form[f"reading_{each}"]) for each in LOADS],
        "may_verify": has_role(user, *VERIFIERS),
        "interval_days": PlantProfile.load().scale_check_days,
    }
    return render(request, "orders/scales/scale_check.html", context, status=status)


def _tell(request: HttpRequest, name: str, written: ScaleVerification) -> None:
    if written.passed:
        messages.success(request, _("The %(scale)s passes.") % {"scale": name})
    else:
        told = _("The %(scale)s failed: nothing is weighed on it until it passes.")
        messages.error(request, told % {"scale": name})
