"""The page of all costs: take stocks from the shipped list, and say what each costs."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods

from blendshop.accounts.signed_in import signed_in
from blendshop.errors import BadInput
from blendshop.plant_steps import STEPS_LEFT
from blendshop.roles import Role, role_required
from formulas.repricing.standing import repricing_standing
from formulas.stocks.actions.shipped import set_stock_costs
from formulas.stocks.cost_table import CostTable


@role_required(Role.FORMULATOR, Role.OFFICE)
@require_http_methods(["GET", "HEAD", "POST"])
def stock_costs(request: HttpRequest) -> HttpResponse:
    sent = request.POST if request.method == "POST" else None
    table = CostTable(timezone.localdate(), sent)
    if sent is not None and table.is_valid():
        costs = table.costs()
        try:
            done = set_stock_costs(
                acting_user=signed_in(request), costs=costs, **table.day.cleaned_data
            )
        except BadInput as error:
            table.refuse(error.fields)
        else:
            if costs:
                said = ngettext(
                    "{count} cost recorded.", "{count} costs recorded.", done.created
                ).format(count=done.created)
                messages.success(request, said)
            else:
                messages.warning(request, _("No cost was changed."))
            return redirect("first_steps" if request.session.get(STEPS_LEFT) else "stock_costs")
    context = {"table": table, "refused": sent is not None, "repricing": repricing_standing()}
    status = 400 if sent is not None else 200
    return render(request, "formulas/stocks/stock_costs.html", context, status=status)
