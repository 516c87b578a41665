"""Pages of the rules on file: every state, and one of them with whom it concerns."""

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from blendshop.roles import STAFF, role_required
from formulas.engine.law.finding import CAUTION
from orders.compliance.state_rules import concerned, packs_of, shown, state_rows


@role_required(*STAFF)
@require_safe
def state_rules_list(request: HttpRequest) -> HttpResponse:
    context = {"rows": state_rows(timezone.localdate()), "caution": CAUTION}
    return render(request, "orders/compliance/state_rules_list.html", context)


@role_required(*STAFF)
@require_safe
def state_rules(request: HttpRequest, state: str) -> HttpResponse:
    """A state without rules on file says so, as long as it can be one."""
    state = state.upper()
    if len(state) != 2 or not state.isalpha() or not state.isascii():
        raise Http404("There is no such state.")
    packs = shown(packs_of(state), timezone.localdate())
    context = {
        "state": state,
        "packs": packs,
        "concerned": concerned(state, packs),
        "caution": CAUTION,
    }
    return render(request, "orders/compliance/state_rules.html", context)
