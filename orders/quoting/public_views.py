"""The quote behind its signed link: read, accept or decline without a login."""

from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_safe

from blendshop.accounts.signed_in import signed_in
from blendshop.errors import BadInput
from blendshop.languages.middleware import written_for
from blendshop.roles import STAFF, has_role
from orders.models import Paper, PlantProfile, Quote
from orders.papers.views import asked_print
from orders.quoting.actions.quotes import accept_quote, decline_quote, quote_opened
from orders.quoting.actions.refusals import require_may_answer, why_closed
from orders.quoting.answer_forms import AnswerForm
from orders.quoting.choices import choices_of
from orders.quoting.links import quote_of_token, quote_url
from orders.quoting.offered_date import LaterDate
from orders.quoting.pages import offer_page
from orders.quoting.quote_pdf import render_quote
from orders.quoting.view_models import QuoteView
from orders.records.forms import show_refusal


@login_not_required
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
@written_for(lambda token: quote_of_token(token).company)
def quote_public(request: HttpRequest, token: str) -> HttpResponse:
    """Only what the customer may see; the answer is a POST of its own."""
    quote = quote_of_token(token)
    form = AnswerForm(request.POST or None, choices=choices_of(quote))
    today = timezone.localdate()
    closed = why_closed(quote, today)
    if request.method == "POST" and form.is_valid():
        if request.user.is_authenticated:  # a link in the hands of somebody who may only look
            require_may_answer(quote, signed_in(request))
        if form.asks_first and not closed:
            return _ask_first(request, quote, form, token)
        try:
            messages.success(request, _answer(quote, form))
        except LaterDate as later:  # the page says it too, and sends it along the next time
            messages.warning(request, later.message)
            return redirect("quote_public", token)
        except BadInput as refused:
            show_refusal(form, refused)
        else:
            return redirect("quote_public", token)
    if request.method == "POST" and form.was_asked and not closed:
        return _ask_first(request, quote, form, token, status=400)
    if request.method == "GET" and not has_role(request.user, *STAFF):
        quote_opened(quote)
    newest = quote.newest_version
    context = {
        **offer_page(quote, today),
        "plant": PlantProfile.load(),
        "closed": closed,
        "newest_url": "" if newest == quote else quote_url(newest),
        **AnswerForm.pair(form, choices=choices_of(quote)),
        "token": token,
    }
    status = 400 if request.method == "POST" else 200
    return render(request, "orders/quoting/public_quote.html", context, status=status)


def _ask_first(
    request: HttpRequest, quote: Quote, form: AnswerForm, token: str, *, status: int = 200
) -> HttpResponse:
    page = reverse("quote_public", args=[token])
    offer = offer_page(quote, timezone.localdate(), taken=form.cleaned_data.get("choice"))
    context = {**offer, "form": form, "page": page, "to": page}
    return render(request, "orders/quoting/accept_quote.html", context, status=status)


def _answer(quote: Quote, form: AnswerForm) -> str:
    """Do what the form says; the sentence that thanks for it."""
    name = form.cleaned_data["name"]
    if form.cleaned_data["decision"] == "accept":
        order = accept_quote(quote=quote, acting_user=None, **form.accepted)
        return _("Thank you, {name}. {number} is accepted; it is order {order}.").format(
            name=name, number=quote.number, order=order.number
        )
    decline_quote(quote=quote, acting_user=None, name=name, why=form.cleaned_data["why"])
    return _("Thank you, {name}. {number} is declined.").format(name=name, number=quote.number)


@login_not_required
@never_cache
@require_safe
def quote_public_pdf(request: HttpRequest, token: str) -> HttpResponse:
    """The issued paper of the quote behind a genuine link."""
    quote = quote_of_token(token)
    issued = get_object_or_404(Paper.objects.filter(quote=quote)[:1])
    return asked_print(request, issued, QuoteView, render_quote)
