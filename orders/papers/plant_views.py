"""The plant's own papers: issued when first asked for, the stored bytes until something changes."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_http_methods, require_safe

from blendshop.accounts.signed_in import signed_in
from blendshop.documents.label_stock import chosen_stock
from blendshop.long_work.asking import ask_to_begin
from blendshop.roles import STAFF, role_required
from orders.papers.actions import (
    issue_batch_record,
    issue_batch_ticket,
    issue_certificate,
    issue_package_labels,
    issue_packing_list,
    issue_pick_list,
)
from orders.papers.certificate_pdf import render_certificate
from orders.papers.label_work import (
    PACKAGE_LABELS,
    begin_labels,
    labels_under_way,
    many_labels,
)
from orders.papers.packing_list_pdf import render_packing_list
from orders.papers.plant_view_models import CertificateView, PackingListView
from orders.papers.views import asked_print, pdf_response
from orders.records.access import get_batch_for, get_order_for, get_part_for


@role_required(*STAFF)
@require_safe
def batch_pick_list_pdf(request: HttpRequest, number: str) -> HttpResponse:
    """What to bring to the tank."""
    user = signed_in(request)
    return pdf_response(issue_pick_list(batch=get_batch_for(user, number), acting_user=user))


@role_required(*STAFF)
@require_safe
def batch_record_pdf(request: HttpRequest, number: str) -> HttpResponse:
    """Plan against actual as it stands now."""
    user = signed_in(request)
    return pdf_response(issue_batch_record(batch=get_batch_for(user, number), acting_user=user))


@role_required(*STAFF)
@require_safe
def part_certificate_pdf(request: HttpRequest, number: str, position: int) -> HttpResponse:
    """The certificate of analysis of a released batch, for the customer of one of its parts."""
    user = signed_in(request)
    part = get_part_for(user, number, position)
    issued = issue_certificate(part=part, acting_user=user)
    return asked_print(request, issued, CertificateView, render_certificate)


@role_required(*STAFF)
@require_http_methods(["GET", "HEAD", "POST"])
def batch_package_labels_pdf(request: HttpRequest, number: str) -> HttpResponse:
    """Scannable labels of the filled packages; ``?stock=4x6`` puts one on each label of a roll.

    Very many are drawn by a worker, once somebody posts; from then on the address leads there.
    """
    user, stock = signed_in(request), request.GET.get("stock", "")
    batch = get_batch_for(user, number)
    chosen_stock(stock)
    if many := many_labels(batch, stock):
        work = (
            begin_labels(many, user) if request.method == "POST" else labels_under_way(many, user)
        )
        if work is None:
            return ask_to_begin(request, PACKAGE_LABELS, many.words)
        return redirect("work_detail", pk=work.pk)
    return pdf_response(issue_package_labels(batch=batch, acting_user=user, stock=stock))


@role_required(*STAFF)
@require_safe
def order_packing_list_pdf(request: HttpRequest, number: str) -> HttpResponse:
    """The filled packages of an order."""
    user = signed_in(request)
    issued = issue_packing_list(order=get_order_for(user, number), acting_user=user)
    return asked_print(request, issued, PackingListView, render_packing_list)


@role_required(*STAFF)
@require_safe
def batch_ticket_pdf(request: HttpRequest, number: str) -> HttpResponse:
    """The ticket: issued the first time it is asked for, the stored bytes ever after."""
    user = signed_in(request)
    return pdf_response(issue_batch_ticket(batch=get_batch_for(user, number), acting_user=user))
