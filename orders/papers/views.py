"""Issued papers, served byte for byte as they were stored."""

from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_safe

from blendshop.accounts.signed_in import signed_in
from blendshop.downloads import private_pdf
from blendshop.roles import STAFF, Role, role_required
from orders.models import Paper
from orders.records.access import get_paper_for


@role_required(Role.CUSTOMER, *STAFF)
@require_safe
def paper(request: HttpRequest, pk: int) -> HttpResponse:
    return pdf_response(get_paper_for(signed_in(request), pk))


def pdf_response(issued: Paper) -> HttpResponse:
    """The stored bytes, shown in the browser."""
    return private_pdf(bytes(issued.pdf), f"{issued.record}-{issued.kind.replace('_', '-')}")
