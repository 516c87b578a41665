"""Base stocks: the list, one stock with every figure's source, the compatibility rules."""

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from blendshop.accounts.signed_in import signed_in
from blendshop.errors import BadInput
from blendshop.money import unit_price
from blendshop.roles import STAFF, Role, role_required
from blendshop.searched_rows import options_page, typed_words
from formulas import reference
from formulas.access import get_stock_for
from formulas.engine.label.grade import grade_of
from formulas.models import BaseStock, CompatibilityRule
from formulas.models.base_stock import stocks_named
from formulas.stocks.actions.stocks import mark_short, record_cost, retire_stock, return_stock
from formulas.stocks.cost_moves import LargeCostMoves
from formulas.stocks.figures import analysis_rows, metal_rows, property_rows
from formulas.stocks.forms import CostForm, StockSearch

STOCKS_PER_PAGE = 50
CHANGES_SHOWN = 10


@require_safe
@role_required(*STAFF)
def stock_list(request: HttpRequest) -> HttpResponse:
    """Every stock with its grade and, for those who may see it, today's cost."""
    form = StockSearch(request.GET)
    today = timezone.localdate()
    stocks = BaseStock.objects.for_engine_on(today)
    if not (form.is_valid() and form.cleaned_data["retired"]):
        stocks = stocks.active()
    found = stocks_named(stocks, form.cleaned_data.get("q", ""))
    page = Paginator(found, STOCKS_PER_PAGE).get_page(request.GET.get("page"))
    rows = []
    for stock in page:
        entry = stock.cost_on(today)
        rows.append(
            {
                "stock": stock,
                "grade": grade_of(stock.analysis()),
                "cost_per_lb": None if entry is None else unit_price(entry.per_lb()),
            }
        )
    return render(
        request, "formulas/stocks/stock_list.html", {"form": form, "page": page, "rows": rows}
    )


@require_safe
@role_required(*STAFF)
def stock_options(request: HttpRequest) -> HttpResponse:
    """Stocks that fit what is typed, by code; with ``?active=`` those that are not retired."""
    stocks = BaseStock.objects.all()
    if "active" in request.GET:
        stocks = stocks.active()
    return options_page(request, stocks_named(stocks, typed_words(request)), by="code")


@require_safe
@role_required(*STAFF)
def stock_detail(request: HttpRequest, code: str) -> HttpResponse:
    return _stock_page(request, get_stock_for(signed_in(request), code))


@require_POST
@role_required(Role.FORMULATOR, Role.OFFICE)
def stock_cost(request: HttpRequest, code: str) -> HttpResponse:
    """Add a cost entry."""
    stock = get_stock_for(signed_in(request), code)
    form = CostForm(request.POST, today=timezone.localdate())
    if form.is_valid():
        try:
            record_cost(
                acting_user=signed_in(request),
                stock=stock,
                sure_of=request.POST.get("sure", ""),
                **form.cleaned_data,
            )
        except LargeCostMoves as asked:
            return _stock_page(request, stock, form, status=asked.status, asked=asked)
        except BadInput as error:
            form.add_error(None, error.message)
        else:
            messages.success(request, _("New cost of {name} recorded.").format(name=stock.name))
            return redirect("stock_detail", code=stock.code)
    return _stock_page(request, stock, form, status=400)


@require_POST
@role_required(Role.FORMULATOR, Role.PLANT)
def stock_short(request: HttpRequest, code: str) -> HttpResponse:
    """Say that a stock has run out for now, or is back."""
    stock = get_stock_for(signed_in(request), code)
    stock = mark_short(
        acting_user=signed_in(request), stock=stock, short=request.POST.get("short") == "yes"
    )
    state = _("marked as short") if stock.short else _("back in stock")
    messages.success(request, _("{name} is {state}.").format(name=stock.name, state=state))
    return redirect("stock_detail", code=stock.code)


@require_POST
@role_required(Role.FORMULATOR)
def stock_retire(request: HttpRequest, code: str) -> HttpResponse:
    """Take a stock out of new blends, or let it in again."""
    stock = get_stock_for(signed_in(request), code)
    if request.POST.get("retired") == "yes":
        retire_stock(acting_user=signed_in(request), stock=stock, on=timezone.localdate())
        messages.success(
            request, _("{name} is retired: no new blend uses it.").format(name=stock.name)
        )
    else:
        return_stock(acting_user=signed_in(request), stock=stock)
        messages.success(request, _("{name} may be used again.").format(name=stock.name))
    return redirect("stock_detail", code=stock.code)


@require_safe
@role_required(*STAFF)
def rule_list(request: HttpRequest) -> HttpResponse:
    """What may meet what, why, and who says so; with the jar test."""
    rules = CompatibilityRule.objects.filter(active=True).select_related("trait_a", "trait_b")
    context = {"rules": rules, "jar_test": reference.jar_test()}
    return render(request, "formulas/stocks/rule_list.html", context)


def _stock_page(
    request: HttpRequest,
    stock: BaseStock,
    cost_form: CostForm | None = None,
    status: int = 200,
    asked: LargeCostMoves | None = None,
) -> HttpResponse:
    today = timezone.localdate()
    in_force = stock.cost_on(today)
    costs = [
        {"entry": entry, "per_lb": unit_price(entry.per_lb()), "in_force": entry == in_force}
        for entry in stock.costs.select_related("stock", "entered_by")
    ]
    context = {
        "stock": stock,
        "grade": grade_of(stock.analysis()),
        "analysis": analysis_rows(stock),
        "metals": metal_rows(stock),
        "properties": tuple(property_rows(stock)),
        "costs": costs,
        "cost_form": cost_form or CostForm(today=today, unit=in_force.unit if in_force else ""),
        "asked": asked,
        "changes": stock.history.select_related("history_user")[:CHANGES_SHOWN],
    }
    return render(request, "formulas/stocks/stock_detail.html", context, status=status)
