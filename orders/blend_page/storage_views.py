"""The blend of the blend page in storage: jars and cold, asked for by itself."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_http_methods
from django_htmx.middleware import HtmxDetails

from blendshop.accounts.signed_in import signed_in
from blendshop.roles import BLENDS, has_role, role_required
from formulas.jar_tests.actions import REGISTRARS
from orders.blend_page.page_options import load_page_options
from orders.blend_page.page_state import state_of, with_applied_alternative
from orders.blend_page.wish_form import WishForm


@require_http_methods(["GET", "HEAD", "POST"])
@role_required(*BLENDS)
def blend_storage(request: HttpRequest) -> HttpResponse:
    """The answer for htmx; a page of its own for everybody else."""
    user = signed_in(request)
    data = with_applied_alternative(request.POST if request.method == "POST" else request.GET)
    worked = state_of(WishForm(data, options=load_page_options(user, timezone.localdate())))
    context = {"state": worked, "may_register": has_role(user, *REGISTRARS)}
    is_part = bool(HtmxDetails(request))
    template = "partials/storage" if is_part else "storage"
    return render(request, f"orders/blend_page/{template}.html", context)
