"""A quote drafted again: the button for its next version, the page that copies it."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from blendshop.accounts.signed_in import signed_in
from blendshop.roles import role_required
from orders.models import Quote
from orders.quoting.actions.refusals import WRITES_QUOTES
from orders.quoting.actions.versions import copy_quote, draft_next_version
from orders.quoting.forms import CopyForm
from orders.records.access import get_quote_for
from orders.records.forms import Refusals


@role_required(*WRITES_QUOTES)
@require_POST
def quote_next_version(request: HttpRequest, number: str) -> HttpResponse:
    """On to the sheet of the draft, so that what is to change is changed at once."""
    user = signed_in(request)
    quote = get_quote_for(user, number)
    draft = draft_next_version(quote=quote, acting_user=user)
    if not draft.is_draft:
        return redirect("quote_detail", draft.number)
    messages.info(
        request,
        _("{number} takes the place of {old} once you send it.").format(
            number=draft.number, old=quote.number
        ),
    )
    return redirect("quote_edit", draft.number)


@role_required(*WRITES_QUOTES)
@require_http_methods(["GET", "HEAD", "POST"])
def quote_copy(request: HttpRequest, number: str) -> HttpResponse:
    """Choose the other customer, then on to the sheet of the draft."""
    user = signed_in(request)
    quote = get_quote_for(user, number)
    form = CopyForm(user, request.POST if request.method == "POST" else None)
    refusals = Refusals(form)
    if request.method == "POST" and form.is_valid():
        with refusals:
            draft = copy_quote(quote=quote, company=form.cleaned_data["company"], acting_user=user)
            return _opened(request, draft)
    status = refusals.status if request.method == "POST" else 200
    context = {"quote": quote, "form": form}
    return render(request, "orders/quoting/quote_copy.html", context, status=status)


def _opened(request: HttpRequest, draft: Quote) -> HttpResponse:
    told = _("{number} is a draft for {company}, at their terms. Look at it, then send it.").format(
        number=draft.number, company=draft.company
    )
    messages.success(request, told)
    return redirect("quote_edit", draft.number)
