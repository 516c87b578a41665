"""The order of batches in each tank: what was in it, what comes next, where a flush is needed."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from blendshop.roles import STAFF, role_required
from orders.tank_order import HEEL_BASIS, tank_orders


@role_required(*STAFF)
@require_safe
def tank_planning(request: HttpRequest) -> HttpResponse:
    """Every tank in use with the suggested order of its planned batches."""
    context = {"tanks": tank_orders(), "heel_basis": HEEL_BASIS}
    return render(request, "orders/charging_planning.html", context)
