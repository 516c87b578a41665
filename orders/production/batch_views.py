"""Batch pages of the plant: list, one batch to weigh from, its papers and its moves."""

from django.contrib import messages
from django.db.models import Q
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from blendshop.accounts.signed_in import signed_in
from blendshop.pages import page_of
from blendshop.roles import STAFF, Role, has_role, role_required
from formulas.engine.composition import in_label_order
from orders.inventory.holds import hold_words_by_batch
from orders.models import Batch, Paper
from orders.planning.plan_words import tolerance_words
from orders.planning.quoted_difference import quoted_differences
from orders.planning.recipe_review import (
    go_ahead,
    unreviewed_recipe,
    waiting_for_review,
    why_not_begun,
)
from orders.planning.tank_heel import moved_since_planned
from orders.production.actions.batches import (
    CANCELLERS,
    MAKERS,
    RELEASERS,
    cancel_batch,
)
from orders.production.actions.go_ahead import LETS_GO_AHEAD, let_go_ahead
from orders.production.batch_list import WITH_WORK_LEFT, filter_batches, weighings
from orders.production.charging_page import made_rows, scale_cautions
from orders.production.forms import BatchFilter
from orders.production.made_record import made_record
from orders.production.release_checks import release_hindrances
from orders.production.sold_as import batch_grade
from orders.records.access import get_batch_for
from orders.records.forms import ReasonForm, Refusals

BATCHES_A_PAGE = 50
RELEASABLE = (Batch.Status.MADE, Batch.Status.HELD)


@role_required(*STAFF)
@require_safe
def batch_list(request: HttpRequest) -> HttpResponse:
    user = signed_in(request)
    form = BatchFilter(request.GET)
    wanted = form.cleaned_data if form.is_valid() else {}
    batches = filter_batches(Batch.objects.visible_to(user), wanted)
    is_by_due_date = wanted.get("status", "") in ("", *WITH_WORK_LEFT)
    page = page_of(
        batches.by_due_date() if is_by_due_date else batches.order_by("-created_at", "-pk"),
        request.GET.get("page"),
        per_page=BATCHES_A_PAGE,
        read=lambda rows: rows.for_long_list().by_due_date(),
    )
    context = {
        "form": form,
        "page": page,
        "is_by_due_date": is_by_due_date,
        "holds": hold_words_by_batch(batch.pk for batch in page.object_list),
        "waiting_for_review": waiting_for_review(page.object_list),
    }
    return render(request, "orders/production/batch_list.html", context)


@role_required(*STAFF)
@require_safe
def batch_detail(request: HttpRequest, number: str) -> HttpResponse:
    return _batch_page(request, get_batch_for(signed_in(request), number))


def _batch_page(
    request: HttpRequest,
    batch: Batch,
    *,
    status: int = 200,
    cancel_form: ReasonForm | None = None,
    go_ahead_form: ReasonForm | None = None,
) -> HttpResponse:
    """The batch; a form that was refused stands in it as it was typed."""
    user = signed_in(request)
    papers = Paper.objects.filter(Q(batch=batch) | Q(part__batch=batch))
    record = made_record(batch)
    context = {
        "batch": batch,
        "plan": batch.load_plan,
        "weighings": weighings(batch.load_plan),
        "on_target": tolerance_words(batch.load_plan),
        "moved": moved_since_planned(batch),
        "differences": quoted_differences(batch),
        "sees_cost": has_role(user, Role.FORMULATOR, Role.OFFICE),
        "analysis": in_label_order(batch.load_plan.analysis),
        "grade": batch_grade(record),
        "as_made": made_rows(record.made),
        "scales": scale_cautions(batch, record.steps, timezone.localdate()),
        "parts": batch.parts.all(),
        "events": batch.events.all(),
        "papers": papers.listed().select_related("part", "batch"),
        "cancel_form": cancel_form or ReasonForm(),
        "refused": cancel_form or go_ahead_form,
        "unreviewed": unreviewed_recipe(batch),
        "not_begun": why_not_begun(batch),
        "go_ahead": go_ahead(batch),
        "go_ahead_form": go_ahead_form or ReasonForm(auto_id="go_ahead_%s"),
        "lets_go_ahead": has_role(user, *LETS_GO_AHEAD),
        "on_hold": hold_words_by_batch([batch.pk]).get(batch.pk, ""),
        "hindrances": release_hindrances(batch) if batch.status in RELEASABLE else [],
        "may_make": has_role(user, *MAKERS),
        "may_release": has_role(user, *RELEASERS),
        "may_cancel": has_role(user, *CANCELLERS),
    }
    return render(request, "orders/production/batch_detail.html", context, status=status)


@role_required(*CANCELLERS)
@require_POST
def batch_cancel(request: HttpRequest, number: str) -> HttpResponse:
    user = signed_in(request)
    batch = get_batch_for(user, number)
    form = ReasonForm(request.POST)
    refusals = Refusals(form)
    if form.is_valid():
        with refusals:
            cancel_batch(batch=batch, acting_user=user, why=form.cleaned_data["why"])
            messages.success(request, _("%(number)s is cancelled.") % {"number": number})
            return redirect("batch_detail", number)
    return _batch_page(request, batch, status=refusals.status, cancel_form=form)


@role_required(*LETS_GO_AHEAD)
@require_POST
def batch_go_ahead(request: HttpRequest, number: str) -> HttpResponse:
    """Formulator or office answers for a load nobody has reviewed the recipe of."""
    user = signed_in(request)
    batch = get_batch_for(user, number)
    form = ReasonForm(request.POST, auto_id="go_ahead_%s")
    refusals = Refusals(form)
    if refusals.taken(lambda typed: let_go_ahead(batch=batch, acting_user=user, why=typed["why"])):
        messages.success(
            request, _("%(number)s may be made without a review.") % {"number": number}
        )
        return redirect("batch_detail", number)
    return _batch_page(request, batch, status=refusals.status, go_ahead_form=form)
