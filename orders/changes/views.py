"""The change log, and taking back a change of it."""

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from blendshop.accounts.signed_in import signed_in
from blendshop.errors import BadInput, ChangedMeanwhile
from blendshop.roles import Role, role_required
from orders.changes.actions import take_back
from orders.changes.forms import LogFilter
from orders.changes.log import find_line, read_log
from orders.changes.taking_back import undoing

READERS = (Role.OFFICE, Role.FORMULATOR)


@role_required(*READERS)
@require_safe
def change_log(request: HttpRequest) -> HttpResponse:
    """Who changed what, the newest on top."""
    user = signed_in(request)
    form = LogFilter(request.GET, user=user)
    page = read_log(user, form.wanted(), request.GET.get("after", ""))
    context = {"form": form, "page": page, "is_first": "after" not in request.GET}
    return render(request, "orders/changes/change_log.html", context)


@role_required(*READERS)
@require_http_methods(["GET", "HEAD", "POST"])
def change_take_back(request: HttpRequest, source: str, pk: int) -> HttpResponse:
    """Asks once, with what will stand then; says why where it cannot be taken back."""
    user = signed_in(request)
    line = find_line(user, source, pk)
    if line is None:
        raise Http404
    why_not, status = undoing(line, user).why_not, 200
    if request.method == "POST":
        try:
            take_back(acting_user=user, line=line)
        except (BadInput, ChangedMeanwhile) as error:
            why_not = " ".join(error.fields.values()) or error.message
            status = error.status
        else:
            messages.success(
                request, _("{record}: what stood before stands again.").format(record=line.record)
            )
            return redirect("change_log")
    context = {"line": line, "why_not": why_not}
    return render(request, "orders/changes/take_back.html", context, status=status)
