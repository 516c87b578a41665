"""The office's table of what suppliers ask for."""

from __future__ import annotations

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from blendshop.accounts.signed_in import signed_in
from blendshop.errors import BadInput
from blendshop.roles import Role, role_required
from formulas.models import BaseStock
from orders.buying.actions import save_supplier_terms
from orders.buying.forms import STOCKS_A_PAGE, TermsRows, by_stock, terms_rows
from orders.inventory.levels import from_the_main


@role_required(Role.OFFICE)
@require_http_methods(["GET", "HEAD", "POST"])
def supplier_terms(request: HttpRequest) -> HttpResponse:
    """Every stock in use with its suppliers; ``?stock=`` one, with a row for another supplier."""
    asked = request.GET.get("stock", "")
    stocks = BaseStock.objects.active().exclude(pk__in=from_the_main()).order_by("code")
    if asked:
        stocks = stocks.filter(code=asked)
    page = Paginator(stocks, STOCKS_A_PAGE).get_page(request.GET.get("page"))
    of_page = {stock.pk: stock for stock in page.object_list}
    rows = terms_rows(
        of_page, request.POST if request.method == "POST" else None, one_more=bool(asked)
    )
    status = 200
    if request.method == "POST":
        if rows.is_valid() and (said := _saved(request, rows)):
            messages.success(request, said)
            return redirect(request.get_full_path())
        status = BadInput.status
    context = {"page": page, "rows": rows, "forms": by_stock(rows), "asked": asked}
    return render(request, "orders/buying/supplier_terms.html", context, status=status)


def _saved(request: HttpRequest, rows: TermsRows) -> str:
    """What to say once it is saved; empty where the action refused, with why on the form."""
    gone = [form.instance for form in rows.deleted_forms if form.instance.pk]
    changed = [
        form.instance
        for form in rows.forms
        if form.has_changed() and form not in rows.deleted_forms
    ]
    if not gone and not changed:
        return _("Nothing was changed.")
    try:
        save_supplier_terms(acting_user=signed_in(request), rows=changed, removed=gone)
    except BadInput as error:
        told = dict.fromkeys([error.message, *error.fields.values()])
        rows.non_form_errors().append(" ".join(told))
        return ""
    return _("The supplier terms are saved.")
