"""Chosen quotes: what would be done to them, read and confirmed once, and what was done."""

from typing import Any, Final
from uuid import uuid4

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from blendshop.accounts.signed_in import signed_in
from blendshop.errors import BadInput
from blendshop.long_work.models import LongWork
from blendshop.roles import role_required
from orders.cost_change.actions.quotes import ACTS_ON_QUOTES, Deed
from orders.cost_change.impact_state import shown_impact
from orders.cost_change.letter import letter_subject, letter_text, usual_words
from orders.cost_change.page import open_quotes
from orders.cost_change.quote_work import KIND, begin_quote_work
from orders.models import CostChange, Quote
from orders.quoting.mail import recipients

#: Of so many quotes the whole mail is shown before it is sent; all are alike but for the quote.
_SHOWN_MAILS: Final = 3
MOST_QUOTES: Final = 500


@role_required(*ACTS_ON_QUOTES)
@require_POST
def cost_change_quotes(request: HttpRequest, pk: int) -> HttpResponse:
    """What would be done to the chosen quotes; with ``confirmed`` it is begun."""
    change = get_object_or_404(CostChange, pk=pk)
    try:
        deed = Deed(request.POST.get("deed", ""))
    except ValueError as error:
        raise BadInput(_("Choose what to do with the quotes.")) from error
    user = signed_in(request)
    numbers = _chosen(request, change)
    if len(numbers) > MOST_QUOTES:
        raise BadInput(_("Choose at most {most} quotes at once.").format(most=MOST_QUOTES))
    found = Quote.objects.visible_to(user).filter(number__in=numbers).select_related("company")
    quotes = list(found.order_by("pk"))
    words = request.POST.get("words", "")[:1000]
    if not quotes:
        raise BadInput(_("Choose at least one quote."))
    if request.POST.get("confirmed") == "yes" and (words.strip() or deed is Deed.DRAFT):
        once = request.POST.get("once", "")[:40]
        work = begin_quote_work(
            deed=deed, change=change, quotes=quotes, words=words, acting_user=user, once=once
        )
        return redirect("work_detail", work.pk)
    if deed is Deed.MAIL and "words" not in request.POST:
        words = usual_words()
    context: dict[str, Any] = {
        "change": change,
        "deed": deed.value,
        "quotes": quotes,
        "words": words,
        "once": uuid4().hex,
        "lacks_words": "confirmed" in request.POST,
    }
    if deed is Deed.MAIL:
        sent = [quote for quote in quotes if quote.status == Quote.Status.SENT]
        context["mails"] = [
            (quote, recipients(quote), letter_subject(quote), letter_text(quote, words))
            for quote in sent[:_SHOWN_MAILS]
        ]
    status = 400 if context["lacks_words"] and "preview" not in request.POST else 200
    return render(request, "orders/cost_change/confirm_quotes.html", context, status=status)


def _chosen(request: HttpRequest, change: CostChange) -> list[str]:
    """The ticked quotes, or all of the list that was shown."""
    impact = shown_impact(change)
    if "all" not in request.POST or impact is None:
        return request.POST.getlist("quote")
    rows = open_quotes(impact, timezone.localdate())
    if request.POST["all"] == "below":
        rows = rows.filter(is_below_floor=True)
    return list(rows.values_list("quote__number", flat=True))


@role_required(*ACTS_ON_QUOTES)
@require_safe
def cost_change_done(request: HttpRequest, pk: int, work: int) -> HttpResponse:
    """Quote by quote what was done, or why not."""
    change = get_object_or_404(CostChange, pk=pk)
    done = get_object_or_404(LongWork.objects.visible_to(signed_in(request)), pk=work, kind=KIND)
    if done.result is None or done.result["change"] != change.pk:
        raise Http404
    context = {"change": change, "work": done, "deed": done.result["deed"]}
    context |= {
        "done": [each for each in done.result["quotes"] if each["is_done"]],
        "refused": [each for each in done.result["quotes"] if not each["is_done"]],
    }
    return render(request, "orders/cost_change/quotes_done.html", context)
