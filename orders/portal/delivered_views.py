"""Where the codes on papers and packages lead: staff to the batch, its customer to its papers."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_safe

from blendshop.accounts.models import User
from blendshop.accounts.signed_in import signed_in
from blendshop.roles import STAFF, Role, has_role, role_required
from orders.models import BatchPart, PackageSerial
from orders.portal.delivered import delivered
from orders.records.access import get_delivered_part_for, get_package_for


@role_required(Role.CUSTOMER, *STAFF)
@require_safe
def package_page(request: HttpRequest, serial: str) -> HttpResponse:
    """The package a scanned code names."""
    user = signed_in(request)
    package = get_package_for(user, serial)
    return _page(request, user, package.part, package)


@role_required(Role.CUSTOMER, *STAFF)
@require_safe
def part_page(request: HttpRequest, number: str, position: int) -> HttpResponse:
    """All that one customer has of a batch, from the code on its label or certificate."""
    user = signed_in(request)
    return _page(request, user, get_delivered_part_for(user, number, position))


def _page(
    request: HttpRequest, user: User, part: BatchPart, package: PackageSerial | None = None
) -> HttpResponse:
    if has_role(user, *STAFF):
        return redirect("batch_detail", part.batch.number)
    return render(request, "orders/portal/delivered.html", {"of": delivered(part, user, package)})
