"""Recall pages: the list, one recall, one customer of it, its letter."""

from typing import Any

from django import forms
from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import Q
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from blendshop.accounts.models import Company, User
from blendshop.accounts.signed_in import signed_in
from blendshop.roles import RECALLERS, STAFF, has_role, require_role, role_required
from orders.models import Recall
from orders.papers.views import pdf_response
from orders.recall.actions import (
    CALLERS,
    JUDGES,
    close_recall,
    concerned,
    free_all,
    hold_all,
    issue_recall_letter,
    open_recall,
    tell,
    write_customer_reason,
)
from orders.recall.forms import CustomerWordsForm, OpenForm, ToldForm
from orders.recall.letter_view import mail_text, recall_letter_view
from orders.recall.page import recall_page
from orders.records.forms import ReasonForm, Refusals

RECALLS_A_PAGE = 50


@role_required(*STAFF)
@require_safe
def recall_list(request: HttpRequest) -> HttpResponse:
    """Open ones first, the newest of them on top."""
    recalls = Recall.objects.visible_to(signed_in(request)).select_related("opened_by")
    ordered = recalls.annotate(is_closed=Q(closed_at__isnull=False)).order_by("is_closed", "-pk")
    page = Paginator(ordered, RECALLS_A_PAGE).get_page(request.GET.get("page"))
    context = {"page": page, "may_recall": has_role(request.user, *RECALLERS)}
    return render(request, "orders/recall/recall_list.html", context)


@role_required(*RECALLERS)
@require_http_methods(["GET", "HEAD", "POST"])
def recall_open(request: HttpRequest) -> HttpResponse:
    user = signed_in(request)
    may_word = has_role(user, *JUDGES)
    if request.method != "POST":
        form = OpenForm(may_word=may_word, initial={"source": request.GET.get("q", "")})
        return render(request, "orders/recall/recall_open.html", {"form": form})
    form = OpenForm(request.POST, may_word=may_word)
    refusals = Refusals(form)
    if form.is_valid():
        with refusals:
            recall = open_recall(acting_user=user, **form.cleaned_data)
            return redirect("recall_detail", recall.number)
    context = {"form": form}
    return render(request, "orders/recall/recall_open.html", context, status=refusals.status)


@role_required(*STAFF)
@require_safe
def recall_detail(request: HttpRequest, number: str) -> HttpResponse:
    user = signed_in(request)
    return render(
        request, "orders/recall/recall_detail.html", recall_page(_recall(user, number), user)
    )


@role_required(*RECALLERS)
@require_POST
def recall_hold(request: HttpRequest, number: str) -> HttpResponse:
    user = signed_in(request)
    hold_all(recall=_recall(user, number), acting_user=user)
    messages.success(request, _("Everything %(number)s reaches is held.") % {"number": number})
    return redirect("recall_detail", number)


@role_required(*JUDGES)
@require_POST
def recall_words(request: HttpRequest, number: str) -> HttpResponse:
    user = signed_in(request)
    recall = _recall(user, number)
    form = CustomerWordsForm(request.POST, auto_id="words_%s")
    refusals = Refusals(form)
    if form.is_valid():
        with refusals:
            text = form.cleaned_data["customer_reason"]
            write_customer_reason(recall=recall, text=text, acting_user=user)
            return redirect("recall_detail", number)
    return _again(request, recall, user, "words_form", form, refusals.status)


@role_required(*JUDGES)
@require_POST
def recall_free(request: HttpRequest, number: str) -> HttpResponse:
    user = signed_in(request)
    recall = _recall(user, number)
    form = ReasonForm(request.POST, auto_id="free_%s")
    refusals = Refusals(form)
    if form.is_valid():
        with refusals:
            free_all(recall=recall, why=form.cleaned_data["why"], acting_user=user)
            return redirect("recall_detail", number)
    return _again(request, recall, user, "free_form", form, refusals.status)


@role_required(*RECALLERS)
@require_POST
def recall_close(request: HttpRequest, number: str) -> HttpResponse:
    user = signed_in(request)
    recall = _recall(user, number)
    form = ReasonForm(request.POST, auto_id="close_%s")
    refusals = Refusals(form)
    if form.is_valid():
        with refusals:
            close_recall(recall=recall, why=form.cleaned_data["why"], acting_user=user)
            return redirect("recall_detail", number)
    return _again(request, recall, user, "close_form", form, refusals.status)


@role_required(*STAFF)
@require_http_methods(["GET", "HEAD", "POST"])
def recall_customer(request: HttpRequest, number: str, pk: int) -> HttpResponse:
    """The mail text to copy, and the form that says the customer was told."""
    user = signed_in(request)
    recall, company = _recall(user, number), get_object_or_404(Company, pk=pk)
    form, status = ToldForm(), 200
    if request.method == "POST":
        require_role(user, *CALLERS)
        form = ToldForm(request.POST)
        refusals = Refusals(form)
        if form.is_valid():
            with refusals:
                tell(recall=recall, company=company, acting_user=user, **form.cleaned_data)
                return redirect("recall_detail", number)
        status = refusals.status
    customer = concerned(recall, company)
    mail = mail_text(recall_letter_view(recall, customer)) if recall.customer_reason else ""
    context = {
        "recall": recall,
        "customer": customer,
        "form": form,
        "mail": mail,
        "may_tell": has_role(user, *CALLERS),
    }
    return render(request, "orders/recall/recall_customer.html", context, status=status)


@role_required(*STAFF)
@require_safe
def recall_letter_pdf(request: HttpRequest, number: str, pk: int) -> HttpResponse:
    user = signed_in(request)
    recall, company = _recall(user, number), get_object_or_404(Company, pk=pk)
    return pdf_response(issue_recall_letter(recall=recall, company=company, acting_user=user))


def _recall(user: User, number: str) -> Recall:
    return get_object_or_404(
        Recall.objects.visible_to(user).select_related("opened_by"), number=number
    )


def _again(
    request: HttpRequest, recall: Recall, user: User, name: str, form: forms.Form, status: int
) -> HttpResponse:
    """The page with the refused form as it was typed."""
    context: dict[str, Any] = {**recall_page(recall, user), name: form, "refused": form}
    return render(request, "orders/recall/recall_detail.html", context, status=status)
