"""New costs: written down, looked at, put in force."""

from typing import Any, Final

from django import forms
from django.contrib import messages
from django.db import transaction
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from blendshop.accounts.signed_in import signed_in
from blendshop.csv_download import csv_response
from blendshop.errors import BadInput, IllegalMove
from blendshop.figures.readers import reader
from blendshop.long_work.actions.beginning import begin
from blendshop.pages import page_of
from blendshop.roles import SEES_COST, has_role, role_required
from blendshop.uploads import takes_files
from formulas.stocks.cost_moves import LargeCostMoves
from formulas.stocks.cost_table import CostTable
from formulas.stocks.cost_views import cost_table_page
from orders.cost_change.actions.impact import work_out_impact
from orders.cost_change.actions.proposing import (
    CHANGES_COSTS,
    NewCost,
    put_in_force,
    write_down_costs,
)
from orders.cost_change.actions.quotes import ACTS_ON_QUOTES
from orders.cost_change.entering import MOST_FILE_BYTES, CostSheet
from orders.cost_change.export import TABLES, table_length
from orders.cost_change.impact_state import shown_impact
from orders.cost_change.page import cost_change_page
from orders.cost_change.table_work import COST_TABLE, MOST_ROWS_AT_ONCE
from orders.models import CostChange
from orders.records.forms import DayField, Refusals

_PER_PAGE: Final = 30


class InForceForm(forms.Form):
    on = DayField(label=gettext_lazy("In force from"))


@role_required(*SEES_COST)
@require_safe
def cost_change_list(request: HttpRequest) -> HttpResponse:
    """Every set of new costs, the newest first."""
    page = page_of(
        CostChange.objects.order_by("-pk"),
        request.GET.get("page"),
        per_page=_PER_PAGE,
        read=lambda rows: rows.select_related("created_by").prefetch_related("costs__stock"),
    )
    context = {"page": page, "may_change": has_role(request.user, *CHANGES_COSTS)}
    return render(request, "orders/cost_change/cost_change_list.html", context)


@role_required(*CHANGES_COSTS)
@takes_files(MOST_FILE_BYTES)
@require_http_methods(["GET", "HEAD", "POST"])
def cost_change_new(request: HttpRequest) -> HttpResponse:
    """Write new costs down; what they do is worked out at once."""
    return _sheet(request, None)


@role_required(*CHANGES_COSTS)
@require_POST
def cost_change_from_table(request: HttpRequest) -> HttpResponse:
    """What was typed into the table of all costs, looked at instead of saved."""
    today = timezone.localdate()
    table = CostTable(today, request.POST)
    if not table.is_valid():
        return cost_table_page(request, table, status=400)
    if not (costs := table.costs()):
        messages.warning(request, _("No cost was changed."))
        return redirect("stock_costs")
    if new := [row.code for row in table.rows if row.code in costs and not row.known]:
        told = _("It is not in the catalogue yet: save its first cost, then look.")
        table.refuse(dict.fromkeys(new, told))
        return cost_table_page(request, table, status=400)
    written = write_down_costs(
        acting_user=signed_in(request),
        name=_("Costs typed on {day}").format(day=reader().date(today)),
        costs={code: NewCost(cost.amount, cost.unit) for code, cost in costs.items()},
    )
    return _worked_out(request, written)


@role_required(*CHANGES_COSTS)
@takes_files(MOST_FILE_BYTES)
@require_http_methods(["GET", "HEAD", "POST"])
def cost_change_edit(request: HttpRequest, pk: int) -> HttpResponse:
    """Write other ones in their place, while they are not in force."""
    change = get_object_or_404(CostChange, pk=pk)
    if change.in_force_on is not None:
        raise IllegalMove(_("These costs are in force; write down new ones."))
    return _sheet(request, change)


@role_required(*SEES_COST)
@require_safe
def cost_change(request: HttpRequest, pk: int) -> HttpResponse:
    """What they do: the sum of it first, then one list at a time."""
    change = get_object_or_404(CostChange.objects.select_related("created_by"), pk=pk)
    context = cost_change_page(
        change,
        timezone.localdate(),
        show=request.GET.get("show", ""),
        asked=request.GET.get("page"),
        below=request.GET.get("below") == "1",
    )
    context |= {
        "may_change": has_role(request.user, *CHANGES_COSTS),
        "may_act": has_role(request.user, *ACTS_ON_QUOTES),
    }
    return render(request, "orders/cost_change/cost_change.html", context)


@role_required(*CHANGES_COSTS)
@require_POST
def cost_change_work_out(request: HttpRequest, pk: int) -> HttpResponse:
    """Have it worked out from the quotes, orders and costs of now."""
    return _worked_out(request, get_object_or_404(CostChange, pk=pk))


@role_required(*CHANGES_COSTS)
@require_http_methods(["GET", "HEAD", "POST"])
def cost_change_in_force(request: HttpRequest, pk: int) -> HttpResponse:
    """Read once more which costs, say from which day, and put them in force."""
    change = get_object_or_404(CostChange, pk=pk)
    sent = request.POST if request.method == "POST" else None
    form = InForceForm(sent, initial={"on": timezone.localdate()})
    status = 200
    asked: LargeCostMoves | None = None
    if sent is not None:
        change.version = _seen_version(request, change)
        refusals = Refusals(form)
        user, sure = signed_in(request), sent.get("sure", "")

        def act(typed: dict[str, Any]) -> None:
            nonlocal asked
            try:
                put_in_force(acting_user=user, change=change, sure_of=sure, **typed)
            except LargeCostMoves as refused:
                asked = refused

        if refusals.taken(act) and asked is None:
            told = _("The new costs are in force from {day}.")
            messages.success(request, told.format(day=reader().date(form.cleaned_data["on"])))
            return redirect("cost_change", pk)
        status = refusals.status if asked is None else asked.status
        change.refresh_from_db()
    context = {
        "change": change,
        "form": form,
        "asked": asked,
        "costs": change.costs.select_related("stock"),
    }
    return render(request, "orders/cost_change/in_force.html", context, status=status)


@role_required(*SEES_COST)
@require_http_methods(["GET"])
def cost_change_csv(request: HttpRequest, pk: int, table: str) -> HttpResponse:
    """One of the lists as a table, whole."""
    impact = shown_impact(get_object_or_404(CostChange, pk=pk))
    if impact is None or table not in TABLES:
        raise Http404
    if table_length(impact, table, timezone.localdate()) > MOST_ROWS_AT_ONCE:
        with transaction.atomic():
            work = begin(
                COST_TABLE,
                asked_by=signed_in(request),
                arguments={"impact": impact.pk, "table": table},
            )
        return redirect("work_detail", work.pk)
    columns, rows = TABLES[table]
    return csv_response(f"new-costs-{pk}-{table}", columns, rows(impact, timezone.localdate()))


def _sheet(request: HttpRequest, change: CostChange | None) -> HttpResponse:
    today = timezone.localdate()
    if request.method != "POST":
        return _sheet_page(request, CostSheet(today, change=change), change)
    more = request.POST.get("do") == "more"
    sheet = CostSheet(today, change=change, data=request.POST, files=request.FILES, more=more)
    if more:
        return _sheet_page(request, sheet, change)
    if sheet.is_valid():
        try:
            written = write_down_costs(
                acting_user=signed_in(request),
                name=sheet.form.cleaned_data["name"],
                costs=sheet.costs(),
                change=change,
                seen_version=None if change is None else _seen_version(request, change),
            )
        except BadInput as error:
            sheet.refuse(error)
        else:
            return _worked_out(request, written)
    return _sheet_page(request, sheet, change, status=400)


def _sheet_page(
    request: HttpRequest, sheet: CostSheet, change: CostChange | None, status: int = 200
) -> HttpResponse:
    context: dict[str, Any] = {"sheet": sheet, "change": change, "refused": status != 200}
    return render(request, "orders/cost_change/cost_sheet.html", context, status=status)


def _worked_out(request: HttpRequest, change: CostChange) -> HttpResponse:
    """To the progress of working it out, or to the page where nothing has changed since."""
    impact = work_out_impact(change=change, acting_user=signed_in(request))
    if impact.work is None or impact.worked_out_at is not None:
        return redirect("cost_change", change.pk)
    return redirect("work_detail", impact.work.pk)


def _seen_version(request: HttpRequest, change: CostChange) -> int:
    """The version that was shown; the one there is where nothing was said."""
    seen = request.POST.get("version", "")
    return int(seen) if seen.isdecimal() and len(seen) < 9 else change.version
