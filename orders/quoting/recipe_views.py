"""What a draft's line costs as the stock on hand allows, and the press that takes it."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from blendshop.accounts.signed_in import signed_in
from blendshop.errors import BadInput, IllegalMove
from blendshop.one_at_a_time import one_at_a_time
from blendshop.roles import role_required
from orders.quoting.actions.recipes import take_as_stock_allows
from orders.quoting.actions.refusals import WRITES_QUOTES, require_draft
from orders.quoting.stock_allows import line_as_stock_allows
from orders.records.access import get_quote_for


@role_required(*WRITES_QUOTES)
@require_http_methods(["GET", "HEAD", "POST"])
@one_at_a_time
def quote_line_stock(request: HttpRequest, number: str, position: int) -> HttpResponse:
    """GET: the sentence and its button, which the quote's page asks for line by line."""
    user = signed_in(request)
    quote = get_quote_for(user, number)
    require_draft(quote)
    if request.method == "POST":
        try:
            revision = take_as_stock_allows(quote=quote, position=position, acting_user=user)
        except (BadInput, IllegalMove) as refused:
            messages.warning(request, refused.message)
        else:
            told = _(
                "Line {line} is now made as stock allows: revision {revision} of its blend, for"
                " {number} only. The blend itself stays as it was."
            )
            messages.success(
                request,
                told.format(line=position, revision=revision.number, number=quote.number),
            )
        return redirect("quote_detail", quote.number)
    context = {
        "quote": quote,
        "position": position,
        "allows": line_as_stock_allows(quote, position, timezone.localdate()),
    }
    part = "partials/line_stock" if request.headers.get("HX-Request") else "quote_line_stock"
    return render(request, f"orders/quoting/{part}.html", context)
