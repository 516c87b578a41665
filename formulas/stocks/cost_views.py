"""The page of all costs: take stocks from the shipped list, and say what each costs."""

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods, require_safe

from blendshop.accounts.signed_in import signed_in
from blendshop.errors import BadInput
from blendshop.plant_steps import STEPS_LEFT
from blendshop.roles import Role, role_required
from formulas.repricing.standing import repricing_standing
from formulas.stocks.actions.shipped import set_stock_costs
from formulas.stocks.cost_moves import LargeCostMoves
from formulas.stocks.cost_table import CostTable, cost_row


@role_required(Role.FORMULATOR, Role.OFFICE)
@require_http_methods(["GET", "HEAD", "POST"])
def stock_costs(request: HttpRequest) -> HttpResponse:
    """The table; what was typed is saved as a whole, large moves once they were confirmed."""
    if request.method != "POST":
        return cost_table_page(request, CostTable(timezone.localdate()))
    table = CostTable(timezone.localdate(), request.POST)
    if not table.is_valid():
        return cost_table_page(request, table, status=400)
    costs = table.costs()
    try:
        done = set_stock_costs(
            acting_user=signed_in(request),
            costs=costs,
            sure_of=request.POST.get("sure", ""),
            **table.day.cleaned_data,
        )
    except LargeCostMoves as asked:
        return cost_table_page(request, table, status=409, asked=asked)
    except BadInput as error:
        table.refuse(error.fields)
        return cost_table_page(request, table, status=400)
    if costs:
        said = ngettext("{count} cost recorded.", "{count} costs recorded.", done.created).format(
            count=done.created
        )
        messages.success(request, said)
    else:
        messages.warning(request, _("No cost was changed."))
    return redirect("first_steps" if request.session.get(STEPS_LEFT) else "stock_costs")


@role_required(Role.FORMULATOR, Role.OFFICE)
@require_safe
def stock_cost_move(request: HttpRequest, code: str) -> HttpResponse:
    """The cell that says what a row being typed makes of its cost; nothing is written."""
    row = cost_row(timezone.localdate(), request.GET, code)
    if row is None:
        raise Http404
    return render(request, "formulas/stocks/partials/cost_move.html", {"row": row})


def cost_table_page(
    request: HttpRequest,
    table: CostTable,
    status: int = 200,
    asked: LargeCostMoves | None = None,
) -> HttpResponse:
    """The table as it stands, with what was refused (400) or is asked about (409)."""
    context = {
        "table": table,
        "refused": status == 400,
        "asked": asked,
        "repricing": repricing_standing(),
    }
    return render(request, "formulas/stocks/stock_costs.html", context, status=status)
