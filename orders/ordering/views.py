"""Order pages: the board, one order, and its moves."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from blendshop.accounts.models import User
from blendshop.accounts.signed_in import signed_in
from blendshop.figures.readers import reader
from blendshop.outbox.actions import resend_mail
from blendshop.outbox.models import Mail
from blendshop.outbox.standing import mails_about
from blendshop.pages import page_of
from blendshop.roles import STAFF, Role, has_role, role_required
from orders.inventory.levels import purchases
from orders.models import Order
from orders.ordering.actions import (
    CANCELLERS,
    DATE_SETTERS,
    SHIPPERS,
    answer_about,
    ask_about,
    cancel_order,
    cancel_own_order,
    mark_shipped,
    set_due_date,
)
from orders.ordering.board import (
    by_due_date,
    filter_orders,
    for_board,
    holds_on_board,
    order_page,
    too_late,
)
from orders.ordering.forms import BoardFilter, DueDateForm, MessageForm, OwnCancelForm
from orders.ordering.labelled_elsewhere import labelled_elsewhere
from orders.ordering.mail import ABOUT
from orders.ordering.own_orders import ANSWERERS, open_question, why_fixed
from orders.planning.actions.planning import PLANNERS, plan_batches
from orders.planning.forms import PlanForm
from orders.production.filling import unfilled_words
from orders.records.access import get_order_for
from orders.records.forms import ReasonForm, require_valid

ORDERS_A_PAGE = 45


@role_required(Role.CUSTOMER, *STAFF)
@require_safe
def order_board(request: HttpRequest) -> HttpResponse:
    """Staff: columns by due date. A customer: its own orders, with what they cost it."""
    user = signed_in(request)
    form = BoardFilter(request.GET, user=user)
    wanted = form.cleaned_data if form.is_valid() else {}
    if not has_role(user, *STAFF) and not wanted.get("status"):
        wanted["status"] = "all"
    orders = filter_orders(Order.objects.visible_to(user), wanted)
    by = ("due_on", "pk") if has_role(user, *STAFF) else ("-created_at", "-pk")
    page = page_of(
        orders.order_by(*by),
        request.GET.get("page"),
        per_page=ORDERS_A_PAGE,
        read=for_board,
    )
    context = {
        "form": form,
        "page": page,
        "groups": by_due_date(page.object_list, timezone.localdate()),
        "today": timezone.localdate(),
        "purchases": purchases(timezone.localdate()) if has_role(user, *STAFF) else [],
    }
    if has_role(user, *STAFF):
        context["holds"] = holds_on_board(page.object_list)
        context["too_late"] = too_late(page.object_list, timezone.localdate())
    template = "order_board" if has_role(user, *STAFF) else "order_own"
    return render(request, f"orders/ordering/{template}.html", context)


@role_required(Role.CUSTOMER, *STAFF)
@require_safe
def order_detail(request: HttpRequest, number: str) -> HttpResponse:
    user = signed_in(request)
    order = get_order_for(user, number)
    context = {
        **order_page(order, user),
        "plan_form": PlanForm(),
        "due_form": DueDateForm(initial={"due_on": order.due_on}, auto_id="due_%s"),
        "cancel_form": ReasonForm(auto_id="cancel_%s"),
        "may_plan": has_role(user, *PLANNERS),
        "may_ship": has_role(user, *SHIPPERS),
        "unfilled": unfilled_words(order) if order.status == Order.Status.MADE else "",
        "ship_form": ReasonForm(auto_id="ship_%s"),
        "may_cancel": has_role(user, *CANCELLERS),
        "may_set_date": has_role(user, *DATE_SETTERS),
        "may_reorder": has_role(user, Role.REP, Role.OFFICE)
        or (has_role(user, Role.CUSTOMER) and user.may_order),
        "is_staff_role": has_role(user, *STAFF),
        **_of_its_customer(order, user),
    }
    if context["is_staff_role"]:
        context["mails"] = mails_about(ABOUT, order.number)
        if order.status in (Order.Status.PLANNED, Order.Status.MADE):
            context["labelled_elsewhere"] = labelled_elsewhere(order)
    return render(request, "orders/ordering/order_detail.html", context)


def _of_its_customer(order: Order, user: User) -> dict[str, Any]:
    """What its customer may do with the order, and what the house does with its questions."""
    is_own = has_role(user, Role.CUSTOMER) and not has_role(user, *STAFF) and user.may_order
    fixed = why_fixed(order)
    is_over = order.status in Order.ENDED
    return {
        "may_cancel_own": is_own and not fixed,
        "may_ask": is_own and not is_over,
        "why_fixed": fixed if is_own and not is_over else "",
        "question": open_question(order) if has_role(user, *ANSWERERS) and not is_over else "",
        "own_cancel_form": OwnCancelForm(auto_id="own_cancel_%s"),
        "ask_form": MessageForm(auto_id="ask_%s"),
    }


@role_required(Role.CUSTOMER)
@require_POST
def order_cancel_own(request: HttpRequest, number: str) -> HttpResponse:
    """Its customer takes it back while nothing of it is planned."""
    user = signed_in(request)
    order = get_order_for(user, number)
    why = require_valid(OwnCancelForm(request.POST))["why"]
    cancel_own_order(order=order, acting_user=user, why=why)
    messages.success(request, _("{number} is cancelled.").format(number=number))
    return redirect("order_detail", number)


@role_required(Role.CUSTOMER)
@require_POST
def order_ask(request: HttpRequest, number: str) -> HttpResponse:
    """What its customer wants of an order that is no longer its own to change."""
    user = signed_in(request)
    order = get_order_for(user, number)
    ask_about(order=order, acting_user=user, text=require_valid(MessageForm(request.POST))["why"])
    messages.success(request, _("Your question is with us; we answer by mail and on this page."))
    return redirect("order_detail", number)


@role_required(*ANSWERERS)
@require_POST
def order_answer(request: HttpRequest, number: str) -> HttpResponse:
    user = signed_in(request)
    order = get_order_for(user, number)
    text = require_valid(MessageForm(request.POST))["why"]
    answer_about(order=order, acting_user=user, text=text)
    messages.success(
        request, _("The answer will be mailed to {company}.").format(company=order.company)
    )
    return redirect("order_detail", number)


@role_required(*STAFF)
@require_POST
def order_mail_resend(request: HttpRequest, number: str, pk: int) -> HttpResponse:
    """Try a mail about the order again that was given up."""
    user = signed_in(request)
    order = get_order_for(user, number)
    mail = get_object_or_404(Mail.objects.about(ABOUT, order.number), pk=pk)
    resend_mail(mail, acting_user=user)
    messages.success(request, _("The mail to {to} will be sent again.").format(to=mail.to))
    return redirect("order_detail", number)


@role_required(*PLANNERS)
@require_POST
def order_plan(request: HttpRequest, number: str) -> HttpResponse:
    user = signed_in(request)
    order = get_order_for(user, number)
    tank = require_valid(PlanForm(request.POST))["tank"]
    batches = plan_batches(order=order, tank=tank, acting_user=user)
    planned = ", ".join(batch.number for batch in batches)
    messages.success(
        request, _("Planned in {name}: {planned}.").format(name=tank.name, planned=planned)
    )
    return redirect("order_detail", number)


@role_required(*SHIPPERS)
@require_POST
def order_ship(request: HttpRequest, number: str) -> HttpResponse:
    user = signed_in(request)
    why = request.POST.get("why", "")
    mark_shipped(order=get_order_for(user, number), acting_user=user, why=why)
    messages.success(request, _("{number} is shipped.").format(number=number))
    return redirect("order_detail", number)


@role_required(*CANCELLERS)
@require_POST
def order_cancel(request: HttpRequest, number: str) -> HttpResponse:
    user = signed_in(request)
    order = get_order_for(user, number)
    why = require_valid(ReasonForm(request.POST))["why"]
    cancel_order(order=order, acting_user=user, why=why)
    messages.success(request, _("{number} is cancelled.").format(number=number))
    return redirect("order_detail", number)


@role_required(*DATE_SETTERS)
@require_POST
def order_due(request: HttpRequest, number: str) -> HttpResponse:
    user = signed_in(request)
    order = get_order_for(user, number)
    wanted = require_valid(DueDateForm(request.POST))
    set_due_date(order=order, acting_user=user, due_on=wanted["due_on"], why=wanted["why"])
    messages.success(
        request,
        _("{number} is due on {day}.").format(
            number=number, day=reader().weekday(wanted["due_on"])
        ),
    )
    return redirect("order_detail", number)
