"""Recall pages: the list, one recall, one customer of it, its letter."""

from collections.abc import Callable
from functools import partial
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
from orders.papers.views import asked_print
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
from orders.recall.letter_pdf import render_recall_letter
from orders.recall.letter_view import RecallLetterView, mail_text, recall_letter_view
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
    form = CustomerWordsForm(request.POST, auto_id="words_%s")
    return _done(request, number, write_customer_reason, words_form=form)


@role_required(*JUDGES)
@require_POST
def recall_free(request: HttpRequest, number: str) -> HttpResponse:
    form = ReasonForm(request.POST, auto_id="free_%s")
    return _done(request, number, free_all, free_form=form)


@role_required(*RECALLERS)
@require_POST
def recall_close(request: HttpRequest, number: str) -> HttpResponse:
    form = ReasonForm(request.POST, auto_id="close_%s")
    return _done(request, number, close_recall, close_form=form)


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
        tell_them = partial(tell, recall=recall, company=company, acting_user=user)
        if refusals.taken(lambda wanted: tell_them(**wanted)):
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
    issued = issue_recall_letter(recall=recall, company=company, acting_user=user)
    return asked_print(request, issued, RecallLetterView, render_recall_letter)


def _recall(user: User, number: str) -> Recall:
    return get_object_or_404(
        Recall.objects.visible_to(user).select_related("opened_by"), number=number
    )


def _done(
    request: HttpRequest, number: str, act: Callable[..., object], **typed: forms.Form
) -> HttpResponse:
    """The recall after the action; or its page with the refused form, by its name, as typed."""
    user = signed_in(request)
    recall, (form,) = _recall(user, number), typed.values()
    refusals = Refusals(form)
    if refusals.taken(lambda wanted: act(recall=recall, acting_user=user, **wanted)):
        return redirect("recall_detail", number)
    context: dict[str, Any] = {**recall_page(recall, user), **typed, "refused": form}
    return render(request, "orders/recall/recall_detail.html", context, status=refusals.status)
