"""The label of a batch's part: what it says and why, its approval, changes by hand, its papers."""

from typing import Final

from django.contrib import messages
from django.core.paginator import Paginator
from django.forms import Form
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from blendshop.accounts.models import User
from blendshop.accounts.signed_in import signed_in
from blendshop.roles import STAFF, has_role, role_required
from orders.labels.actions import (
    LABEL_APPROVERS,
    LABEL_EDITORS,
    approve_label,
    change_label,
    issue_label_draft,
    issue_label_placard,
    issue_small_label,
    withdraw_approval,
)
from orders.labels.forms import ApprovalForm, LabelChangeForm, WithdrawForm
from orders.labels.page import label_page
from orders.labels.waiting import labels_here, waiting_labels
from orders.models import Batch, BatchPart, Order
from orders.papers.views import pdf_response
from orders.records.access import get_part_for
from orders.records.forms import Refusals

#: A label is drafted to be compared with what was approved, so a page takes no more of them.
LOADS_A_PAGE: Final = 24


@role_required(*STAFF)
@require_safe
def labels_waiting(request: HttpRequest) -> HttpResponse:
    """Labels of planned and made loads that nobody has approved yet, so many loads a page."""
    parts = labels_here(signed_in(request))
    page = Paginator(parts.values_list("pk", flat=True), LOADS_A_PAGE).get_page(
        request.GET.get("page")
    )
    of_page = BatchPart.objects.filter(pk__in=list(page.object_list))
    context = {"waiting": waiting_labels(of_page), "page": page}
    return render(request, "orders/labels/labels_waiting.html", context)


@role_required(*STAFF)
@require_safe
def label_detail(request: HttpRequest, number: str, position: int) -> HttpResponse:
    user = signed_in(request)
    return _label_page(request, user, get_part_for(user, number, position))


@role_required(*LABEL_EDITORS)
@require_POST
def label_change(request: HttpRequest, number: str, position: int) -> HttpResponse:
    """Lower a line, leave it out or put it back; refused fields are shown where they stand."""
    user = signed_in(request)
    part = get_part_for(user, number, position)
    form = LabelChangeForm(request.POST, label=label_page(part)["label"])
    refusals = Refusals(form)
    if form.is_valid():
        with refusals:
            change = change_label(part=part, acting_user=user, **form.cleaned_data)
            told = _("%(line)s %(changed)s.")
            words = {"line": change.label, "changed": change.get_action_display()}
            messages.success(request, told % words)
            return redirect("label_detail", number, position)
    return _label_page(request, user, part, change_form=form, status=refusals.status)


@role_required(*LABEL_APPROVERS)
@require_POST
def label_approve(request: HttpRequest, number: str, position: int) -> HttpResponse:
    """Approve the label that was on the page, for every load of its kind."""
    user = signed_in(request)
    part = get_part_for(user, number, position)
    form = ApprovalForm(request.POST, state=label_page(part)["state"])
    refusals = Refusals(form)
    if refusals.taken(
        lambda typed: approve_label(
            part=part,
            acting_user=user,
            seen=typed["seen"],
            confirmed=form.confirmed,
            note=typed["note"],
        )
    ):
        messages.success(request, _("The label is approved."))
        return redirect("label_detail", number, position)
    return _label_page(request, user, part, approval_form=form, status=refusals.status)


@role_required(*LABEL_APPROVERS)
@require_POST
def label_withdraw(request: HttpRequest, number: str, position: int) -> HttpResponse:
    """Take the approval back, with a reason; the label is a draft again."""
    user = signed_in(request)
    part = get_part_for(user, number, position)
    form = WithdrawForm(request.POST)
    refusals = Refusals(form)
    if refusals.taken(
        lambda typed: withdraw_approval(part=part, acting_user=user, why=typed["withdrawn_why"])
    ):
        messages.success(request, _("The approval is withdrawn; the label is a draft again."))
        return redirect("label_detail", number, position)
    return _label_page(request, user, part, withdraw_form=form, status=refusals.status)


@role_required(*STAFF)
@require_safe
def label_letter_pdf(request: HttpRequest, number: str, position: int) -> HttpResponse:
    """The label on Letter paper, a draft with its review: issued anew after a change."""
    user = signed_in(request)
    part = get_part_for(user, number, position)
    return pdf_response(issue_label_draft(part=part, acting_user=user))


@role_required(*STAFF)
@require_safe
def label_placard_pdf(request: HttpRequest, number: str, position: int) -> HttpResponse:
    """The tote placard: issued when first asked for, and anew after a change."""
    user = signed_in(request)
    return pdf_response(
        issue_label_placard(part=get_part_for(user, number, position), acting_user=user)
    )


@role_required(*STAFF)
@require_safe
def label_small_pdf(request: HttpRequest, number: str, position: int) -> HttpResponse:
    """The 4 by 6 inch label: issued when first asked for, and anew after a change."""
    user = signed_in(request)
    return pdf_response(
        issue_small_label(part=get_part_for(user, number, position), acting_user=user)
    )


def _label_page(
    request: HttpRequest,
    user: User,
    part: BatchPart,
    *,
    change_form: LabelChangeForm | None = None,
    approval_form: ApprovalForm | None = None,
    withdraw_form: WithdrawForm | None = None,
    status: int = 200,
) -> HttpResponse:
    """The label; a form that was refused stands in it as it was filled in."""
    context = label_page(part)
    state, is_live = context["state"], part.batch.status != Batch.Status.CANCELLED
    has_left = part.order_line.order.status == Order.Status.SHIPPED
    may_change = is_live and not has_left and has_role(user, *LABEL_EDITORS)
    may_approve = is_live and has_role(user, *LABEL_APPROVERS)
    forms: dict[str, Form | None] = {"form": None, "approval_form": None, "withdraw_form": None}
    if may_change:
        forms["form"] = change_form or LabelChangeForm(label=context["label"])
    if may_approve and state.is_approved:
        forms["withdraw_form"] = withdraw_form or WithdrawForm()
    if may_approve and not state.is_approved and not state.forbids:
        # What was ticked for another label than the one shown now is ticked anew.
        is_of_this = approval_form and approval_form["seen"].value() == state.now.fingerprint
        forms["approval_form"] = approval_form if is_of_this else ApprovalForm(state=state)
    refused = change_form or approval_form or withdraw_form
    context |= {"part": part, "batch": part.batch, "refused": refused, **forms}
    return render(request, "orders/labels/label_detail.html", context, status=status)
