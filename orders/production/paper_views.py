"""Made from the paper ticket: one form for every weight and lot."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from blendshop.accounts.signed_in import signed_in
from blendshop.errors import IllegalMove
from blendshop.roles import role_required
from orders.models import Batch
from orders.planning.recipe_review import require_reviewed
from orders.production.actions.charging import CHARGERS
from orders.production.actions.paper_ticket import PaperTicketRefused, made_from_paper
from orders.production.charging_page import WEIGHS, fresh_key, scale_cautions
from orders.production.paper_form import PaperTicketForm
from orders.production.step_rows import step_rows
from orders.production.steps import batch_steps
from orders.records.access import get_batch_for


@role_required(*CHARGERS)
@require_http_methods(["GET", "HEAD", "POST"])
def batch_paper(request: HttpRequest, number: str) -> HttpResponse:
    user = signed_in(request)
    batch = get_batch_for(user, number)
    rows = step_rows(batch, batch_steps(batch), timezone.localdate())
    if request.method != "POST":
        if batch.status not in WEIGHS:
            raise IllegalMove(
                _("%(number)s is %(status)s; nothing more is charged into it.")
                % {"number": number, "status": batch.get_status_display()}
            )
        require_reviewed(batch)
        form = PaperTicketForm(rows=rows, initial={"key": fresh_key()})
        return _page(request, batch, form)
    form = PaperTicketForm(request.POST, rows=rows)
    if not form.is_valid():
        return _page(request, batch, form)
    try:
        made_from_paper(
            batch=batch,
            weights=form.weights(),
            key=form.cleaned_data["key"],
            weighed_at=form.cleaned_data["weighed_at"],
            acting_user=user,
        )
    except PaperTicketRefused as refused:
        form.refuse(refused.reasons)
        return _page(request, batch, form)
    messages.success(
        request, _("%(number)s is made. It leaves only after its release.") % {"number": number}
    )
    return redirect("batch_detail", number)


def _page(request: HttpRequest, batch: Batch, form: PaperTicketForm) -> HttpResponse:
    context = {
        "batch": batch,
        "plan": batch.load_plan,
        "form": form,
        "scales": scale_cautions(batch, batch_steps(batch), timezone.localdate()),
    }
    status = 400 if form.errors else 200
    return render(request, "orders/production/paper_ticket.html", context, status=status)
