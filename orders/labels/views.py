"""The label of a batch's part: what it says and why, what to check, changes by hand, its papers."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST, require_safe

from blendshop.accounts.models import User
from blendshop.accounts.signed_in import signed_in
from blendshop.errors import BadInput
from blendshop.roles import STAFF, has_role, role_required
from orders.labels.actions import (
    LABEL_EDITORS,
    change_label,
    issue_label_draft,
    issue_label_placard,
    issue_small_label,
)
from orders.labels.forms import LabelChangeForm
from orders.labels.page import label_page
from orders.models import Batch, BatchPart
from orders.papers.views import pdf_response
from orders.records.access import get_part_for


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
    context = label_page(part)
    form = LabelChangeForm(request.POST, label=context["label"])
    if form.is_valid():
        try:
            change = change_label(part=part, acting_user=user, **form.cleaned_data)
        except BadInput as error:
            _show(form, error)
        else:
            messages.success(request, f"{change.label} {change.get_action_display()}.")
            return redirect("label_detail", number, position)
    return _label_page(request, user, part, form, status=400)


@role_required(*STAFF)
@require_safe
def label_letter_pdf(request: HttpRequest, number: str, position: int) -> HttpResponse:
    """The letter draft with its review pages: issued when first asked for, and after a change."""
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
    form: LabelChangeForm | None = None,
    status: int = 200,
) -> HttpResponse:
    context = label_page(part)
    may_change = has_role(user, *LABEL_EDITORS) and part.batch.status != Batch.Status.CANCELLED
    context |= {
        "part": part,
        "batch": part.batch,
        "form": (form or LabelChangeForm(label=context["label"])) if may_change else None,
    }
    return render(request, "orders/labels/label_detail.html", context, status=status)


def _show(form: LabelChangeForm, error: BadInput) -> None:
    """Each message at its field, else above the form."""
    for name, message in error.fields.items() or [("", error.message)]:
        form.add_error(name if name in form.fields else None, message)
