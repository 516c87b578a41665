"""The tray: what was tried is kept, compared, and two or three of it quoted."""

from __future__ import annotations

from collections.abc import Sequence
from urllib.parse import urlencode

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from blendshop.accounts.signed_in import signed_in
from blendshop.errors import BadInput
from blendshop.one_at_a_time import one_at_a_time
from blendshop.roles import BLENDS, has_role, role_required
from formulas.models import BlendRevision
from orders.blend_page.actions import (
    KEPT_DAYS,
    MOST_TRIED,
    drop_tried,
    keep_tried,
    quote_tried,
    save_tried,
)
from orders.blend_page.page_options import load_page_options
from orders.blend_page.sprayed_query import sprayed_query
from orders.blend_page.to_save import contract_of, typed_wish
from orders.blend_page.tray import figures_of, tray_of
from orders.models import TriedBlend
from orders.quoting.actions.refusals import CHOICES, WRITES_QUOTES
from orders.quoting.large_quantities import asked_about
from orders.records.sent_once import key_of_sent


@require_safe
@role_required(*BLENDS)
def blend_tray(request: HttpRequest) -> HttpResponse:
    """What this person tried, side by side."""
    return _page(request)


@require_POST
@role_required(*BLENDS)
@one_at_a_time
def blend_tray_keep(request: HttpRequest) -> HttpResponse:
    """Keep the wish that was shown, with what it comes to now."""
    user = signed_in(request)
    worked = typed_wish(request.POST, load_page_options(user, timezone.localdate()))
    figures, wish = figures_of(worked), contract_of(worked)
    package = worked.price.package if worked.price else None
    if package is None:
        raise BadInput(_("There is no blend to keep yet."))
    options, typed = worked.form.options, worked.form.cleaned_data
    keep_tried(
        acting_user=user,
        link=worked.link,
        wish=wish,
        figures=figures,
        package=package,
        quantity=typed["quantity"],
        company=options.company(typed["company"]),
        ship_to=options.ship_to(typed["ship_to"]),
    )
    return redirect("blend_tray")


@require_POST
@role_required(*BLENDS)
def blend_tray_drop(request: HttpRequest, pk: int) -> HttpResponse:
    drop_tried(acting_user=signed_in(request), pk=pk)
    return redirect("blend_tray")


@require_POST
@role_required(*WRITES_QUOTES)
def blend_tray_quote(request: HttpRequest) -> HttpResponse:
    """Save the ticked ones under their names and draft a quote that lets the customer choose."""
    user, ticked = signed_in(request), set(request.POST.getlist("take"))
    rows = tray_of(user, request.POST)
    taken = [(row.tried, row.name) for row in rows if str(row.tried.pk) in ticked]
    wanted = [(tried.package, tried.quantity) for tried, _name in taken]
    if asked := asked_about(wanted, request.POST.get("meant", "")):
        return _page(request, problem=asked.words, meant=asked.meant)
    try:
        key = key_of_sent(user, request.POST)
        if taken and all(tried.company is None for tried, _name in taken):
            revisions = save_tried(acting_user=user, taken=taken, once_key=key)
            return redirect(f"{reverse('quote_new')}?{_choices_query(revisions, taken)}")
        quote = quote_tried(acting_user=user, taken=taken, once_key=key)
    except BadInput as refused:
        problem = " ".join([refused.message, *refused.fields.values()])
        return _page(request, problem=problem, status=refused.status)
    messages.success(request, _("{number} is saved as a draft.").format(number=quote.number))
    return redirect("quote_edit", quote.number)


def _choices_query(
    revisions: Sequence[BlendRevision], taken: Sequence[tuple[TriedBlend, str]]
) -> str:
    """What the sheet of a quote begins with, for whom is asked there."""
    tried = [each for each, _name in taken]
    rates = [each.figures.n_rate_lb_per_1000sqft for each in tried]
    query = {
        "revision": [revision.pk for revision in revisions],
        "package": [each.package.code for each in tried],
        "quantity": [each.quantity for each in tried],
        "n_rate": ["" if rate is None else f"{rate:g}" for rate in rates],
    }
    # One caller sprays one way: as was said last.
    return urlencode(query | sprayed_query(QueryDict(tried[-1].link)), doseq=True)


def _page(
    request: HttpRequest, *, problem: str = "", meant: str = "", status: int = 200
) -> HttpResponse:
    user = signed_in(request)
    rows = tray_of(user, request.POST)
    ticked = request.POST.getlist("take")
    if request.method != "POST" and len(rows) in CHOICES:
        ticked = [str(row.tried.pk) for row in rows]
    context = {
        "rows": rows,
        "ticked": ticked,
        "may_quote": has_role(user, *WRITES_QUOTES),
        "most": MOST_TRIED,
        "days": KEPT_DAYS,
        "problem": problem,
        "meant": meant,
    }
    return render(request, "orders/blend_page/tray.html", context, status=status)
