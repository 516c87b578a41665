"""Stock pages of the plant: levels, lots, one lot and its entries. They work without JavaScript."""

from decimal import Decimal
from typing import Final

from django import forms
from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import Q
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from blendshop.accounts.signed_in import signed_in
from blendshop.documents.label_stock import chosen_stock
from blendshop.downloads import private_pdf
from blendshop.figures.readers import reader
from blendshop.pages import page_of
from blendshop.roles import RECALLERS, STAFF, has_role, role_required
from blendshop.uploads import MB, sent_back, takes_files
from formulas.models import BaseStock
from orders.inventory.actions.lot_quality import (
    HOLDERS,
    RECORDERS,
    RELEASERS,
    extend_lot,
    hold_lot,
    record_certificate,
    release_lot,
)
from orders.inventory.actions.lots import (
    ADJUSTERS,
    MOVERS,
    RECEIVERS,
    Delivery,
    adjust_lot,
    count_lot,
    receive_lot,
    transfer_lot,
)
from orders.inventory.forms import (
    LARGEST_FILE_MB,
    AdjustForm,
    CertificateForm,
    CountForm,
    ExtendForm,
    LotFilter,
    ReceiveForm,
    StockChoice,
    TransferForm,
)
from orders.inventory.levels import purchases_of, stock_levels
from orders.inventory.lot_label_pdf import render_lot_label
from orders.inventory.reserved_rounds import reserved_stocks
from orders.models import StockLot, StockPurchase
from orders.records.forms import ReasonForm, Refusals

LOTS_A_PAGE: Final = 50
LEVELS_A_PAGE: Final = 60
MOVEMENTS_A_PAGE: Final = 100


@role_required(*STAFF)
@require_safe
def stock_levels_page(request: HttpRequest) -> HttpResponse:
    """On hand, reserved, available, when it runs out, and what to buy.

    ``?short=`` lists all that is to buy, ``?stock=`` one stock with all orders that want it.
    """
    levels, asked = stock_levels(timezone.localdate()), request.GET.get("stock", "")
    if asked:
        levels = [level for level in levels if level.stock.code == asked]
    bought = purchases_of(levels) if StockLot.objects.exists() else []
    is_short = "short" in request.GET
    rows = bought if is_short else levels
    page = Paginator(rows, LEVELS_A_PAGE).get_page(request.GET.get("page"))
    context = {
        "page": page,
        "is_short": is_short,
        "asked": asked,
        "purchases": page.object_list if is_short else bought,
        "reserved": [] if is_short or asked else reserved_stocks(),
        "may_receive": has_role(request.user, *RECEIVERS),
    }
    return render(request, "orders/inventory/stock_levels.html", context)


@role_required(*STAFF)
@require_safe
def lot_list(request: HttpRequest) -> HttpResponse:
    """Lots to look through. A scanned code leads straight to its lot."""
    user = signed_in(request)
    lots = StockLot.objects.visible_to(user).select_related("stock")
    form = LotFilter(request.GET)
    wanted = form.cleaned_data if form.is_valid() else {}
    text = (wanted.get("q") or "").strip()
    if text and (scanned := lots.filter(code__iexact=text).first()):
        return redirect("lot_detail", scanned.code)
    if text:
        lots = lots.filter(
            Q(code__icontains=text)
            | Q(supplier_lot__icontains=text)
            | Q(location__icontains=text)
            | Q(stock__name__icontains=text)
        )
    if stock := wanted.get("stock"):
        lots = lots.filter(stock=stock)
    state = wanted.get("state")
    if not state:
        lots = lots.exclude(state=StockLot.State.EXHAUSTED)
    elif state != "all":
        lots = lots.filter(state=state)
    page = page_of(
        lots.in_order_of_use(),
        request.GET.get("page"),
        per_page=LOTS_A_PAGE,
        read=lambda rows: rows.select_related("stock"),
    )
    context = {
        "form": form,
        "page": page,
        "today": timezone.localdate(),
        "may_receive": has_role(user, *RECEIVERS),
    }
    return render(request, "orders/inventory/lot_list.html", context)


@role_required(*RECEIVERS)
@require_http_methods(["GET", "HEAD", "POST"])
@takes_files(LARGEST_FILE_MB * MB)
def lot_receive(request: HttpRequest) -> HttpResponse:
    """First which stock, then the delivery and its certificate."""
    user = signed_in(request)
    choice = StockChoice(request.GET)
    if not choice.is_valid():
        return render(
            request, "orders/inventory/lot_receive.html", {"choice": choice, "form": None}
        )
    stock: BaseStock = choice.cleaned_data["stock"]
    if request.method != "POST":
        form = ReceiveForm(stock=stock, asked=request.GET.get("purchase", ""))
        return render(request, "orders/inventory/lot_receive.html", {"stock": stock, "form": form})
    form = ReceiveForm(request.POST, request.FILES, stock=stock)
    refusals = Refusals(form)
    if form.is_valid():
        values = form.cleaned_data
        delivery = Delivery(
            stock=stock,
            **{
                name: values[name]
                for name in (
                    "mass_lb", "received_on", "supplier", "supplier_lot", "expires_on", "location",
                )
            },
        )  # fmt: skip
        with refusals:
            lot = receive_lot(
                delivery=delivery,
                acting_user=user,
                key=values["key"],
                certificate=form.certificate(),
                held_reason=values["held_reason"],
                again=form.again(),
                purchase=values.get("purchase"),
            )
            received = reader().weighed(lot.received_lb)
            messages.success(
                request,
                _("%(received)s of %(stock)s received as %(lot)s.")
                % {"received": received, "stock": stock.name, "lot": lot.code},
            )
            if told := _less_than_ordered(lot, values.get("purchase")):
                messages.warning(request, told)
            return redirect("lot_detail", lot.code)
    context = {"stock": stock, "form": form}
    template = "orders/inventory/lot_receive.html"
    return render(request, template, context, status=refusals.status)


def _less_than_ordered(lot: StockLot, purchase: StockPurchase | None) -> str:
    """What to do where less came than was ordered: nothing of it is on the way any more."""
    if purchase is None or lot.received_lb >= purchase.lb:
        return ""
    return _(
        "%(less)s less came than was ordered. If the rest is still to come, write it down as"
        " ordered again."
    ) % {"less": reader().weighed(purchase.lb - lot.received_lb)}


@role_required(*STAFF)
@require_safe
def lot_detail(request: HttpRequest, code: str) -> HttpResponse:
    return _lot_page(request, _lot(request, code))


def _lot_page(
    request: HttpRequest, lot: StockLot, *, status: int = 200, **typed: forms.Form
) -> HttpResponse:
    """The lot; ``typed`` is the form that was refused, by its name on the page."""
    user = signed_in(request)
    movements = lot.movements.select_related("batch").order_by("-pk")
    context = {
        "lot": lot,
        "page": Paginator(movements, MOVEMENTS_A_PAGE).get_page(request.GET.get("page")),
        "figures": lot.figures.all(),
        "metals": lot.metals.all(),
        "splits": lot.splits.all(),
        "events": lot.events.all(),
        "today": timezone.localdate(),
        "count_form": CountForm(initial={"seen_lb": lot.on_hand_lb}, auto_id="count_%s"),
        "adjust_form": AdjustForm(auto_id="adjust_%s"),
        "transfer_form": TransferForm(auto_id="transfer_%s"),
        "hold_form": ReasonForm(auto_id="hold_%s"),
        "release_form": ReasonForm(auto_id="release_%s"),
        "extend_form": ExtendForm(auto_id="extend_%s"),
        "may_adjust": has_role(user, *ADJUSTERS),
        "may_move": has_role(user, *MOVERS),
        "may_recall": has_role(user, *RECALLERS),
        "may_hold": has_role(user, *HOLDERS),
        "may_release": has_role(user, *RELEASERS),
        "may_record": has_role(user, *RECORDERS),
        "refused": next(iter(typed.values()), None),
        **typed,
    }
    return render(request, "orders/inventory/lot_detail.html", context, status=status)


@role_required(*ADJUSTERS)
@require_POST
def lot_count(request: HttpRequest, code: str) -> HttpResponse:
    lot = _lot(request, code)
    form = CountForm(request.POST, auto_id="count_%s")
    refusals = Refusals(form)
    if form.is_valid():
        with refusals:
            movement = count_lot(lot=lot, acting_user=signed_in(request), **form.cleaned_data)
            change = movement.mass_lb if movement else Decimal(0)
            said = f"changed by {reader().weighed(change)}" if movement else "was right"
            messages.success(
                request, _("%(code)s counted: the book %(said)s.") % {"code": code, "said": said}
            )
            return redirect("lot_detail", code)
    lot.refresh_from_db()
    # What is counted next is held against the balance that is shown now.
    typed = request.POST.copy()
    typed["seen_lb"] = str(lot.on_hand_lb)
    form.data = typed
    return _lot_page(request, lot, status=refusals.status, count_form=form)


@role_required(*ADJUSTERS)
@require_POST
def lot_adjust(request: HttpRequest, code: str) -> HttpResponse:
    lot = _lot(request, code)
    form = AdjustForm(request.POST, auto_id="adjust_%s")
    refusals = Refusals(form)
    if form.is_valid():
        with refusals:
            movement = adjust_lot(lot=lot, acting_user=signed_in(request), **form.cleaned_data)
            messages.success(
                request,
                _("%(code)s changed by %(mass_lb)s.")
                % {"code": code, "mass_lb": reader().weighed(movement.mass_lb)},
            )
            return redirect("lot_detail", code)
    return _lot_page(request, lot, status=refusals.status, adjust_form=form)


@role_required(*MOVERS)
@require_POST
def lot_transfer(request: HttpRequest, code: str) -> HttpResponse:
    lot = _lot(request, code)
    form = TransferForm(request.POST, auto_id="transfer_%s")
    refusals = Refusals(form)
    if form.is_valid():
        with refusals:
            part = transfer_lot(lot=lot, acting_user=signed_in(request), **form.cleaned_data)
            messages.success(
                request,
                _("%(received_lb)s moved to %(location)s; that part is lot %(part)s now.")
                % {
                    "received_lb": reader().weighed(part.received_lb),
                    "location": part.location,
                    "part": part.code,
                },
            )
            return redirect("lot_detail", part.code)
    return _lot_page(request, lot, status=refusals.status, transfer_form=form)


@role_required(*HOLDERS)
@require_POST
def lot_hold(request: HttpRequest, code: str) -> HttpResponse:
    lot = _lot(request, code)
    form = ReasonForm(request.POST, auto_id="hold_%s")
    refusals = Refusals(form)
    if form.is_valid():
        with refusals:
            why = form.cleaned_data["why"]
            held = hold_lot(lot=lot, why=why, acting_user=signed_in(request))
            names = ", ".join(part.code for part in held)
            messages.success(
                request,
                _("Held: %(names)s.") % {"names": names}
                if held
                else _("%(code)s is held already.") % {"code": code},
            )
            return redirect("lot_detail", code)
    return _lot_page(request, lot, status=refusals.status, hold_form=form)


@role_required(*STAFF)
@require_safe
def lot_label_pdf(request: HttpRequest, code: str) -> HttpResponse:
    """What is stuck on the lot; ``?stock=4x6`` puts it on a label of a roll."""
    lot = _lot(request, code)
    stock = chosen_stock(request.GET.get("stock", ""))
    return private_pdf(render_lot_label(lot, stock), f"{lot.code}-label")


@role_required(*RELEASERS)
@require_POST
def lot_extend(request: HttpRequest, code: str) -> HttpResponse:
    """A later last day of use, after a test."""
    lot = _lot(request, code)
    form = ExtendForm(request.POST, auto_id="extend_%s")
    refusals = Refusals(form)
    if form.is_valid():
        with refusals:
            wanted = form.cleaned_data
            extend_lot(lot=lot, acting_user=signed_in(request), **wanted)
            last_day = reader().date(wanted["expires_on"])
            messages.success(
                request,
                _("%(code)s may be used through %(last_day)s.")
                % {"code": code, "last_day": last_day},
            )
            return redirect("lot_detail", code)
    return _lot_page(request, lot, status=refusals.status, extend_form=form)


@role_required(*RELEASERS)
@require_POST
def lot_release(request: HttpRequest, code: str) -> HttpResponse:
    lot = _lot(request, code)
    form = ReasonForm(request.POST, auto_id="release_%s")
    refusals = Refusals(form)
    if form.is_valid():
        with refusals:
            release_lot(lot=lot, why=form.cleaned_data["why"], acting_user=signed_in(request))
            messages.success(request, _("%(code)s may be used again.") % {"code": code})
            return redirect("lot_detail", code)
    return _lot_page(request, lot, status=refusals.status, release_form=form)


@role_required(*RECORDERS)
@require_http_methods(["GET", "HEAD", "POST"])
@takes_files(LARGEST_FILE_MB * MB)
def lot_certificate(request: HttpRequest, code: str) -> HttpResponse:
    """Record what the certificate says, or correct it."""
    lot = _lot(request, code)
    if request.method != "POST":
        form = CertificateForm(stock=lot.stock, initial=_as_recorded(lot))
        return render(request, "orders/inventory/lot_certificate.html", {"lot": lot, "form": form})
    form = CertificateForm(request.POST, request.FILES, stock=lot.stock)
    refusals = Refusals(form)
    if form.is_valid():
        with refusals:
            record_certificate(
                lot=lot,
                certificate=form.certificate(),
                acting_user=signed_in(request),
                again=form.again(),
            )
            messages.success(
                request, _("The certificate of %(code)s is recorded.") % {"code": code}
            )
            return redirect("lot_detail", code)
    context = {"lot": lot, "form": form}
    template = "orders/inventory/lot_certificate.html"
    return render(request, template, context, status=refusals.status)


@role_required(*STAFF)
@require_safe
def lot_file(request: HttpRequest, code: str) -> HttpResponse:
    """The certificate's file; there is no other way to it."""
    lot = _lot(request, code)
    if not lot.certificate:
        raise Http404("No file.")
    return sent_back(lot.certificate, f"{lot.code}-certificate")


def _lot(request: HttpRequest, code: str) -> StockLot:
    lots = StockLot.objects.visible_to(signed_in(request)).select_related("stock", "split_from")
    return get_object_or_404(lots, code=code)


def _as_recorded(lot: StockLot) -> dict[str, object]:
    figures, metals = list(lot.figures.all()), list(lot.metals.all())
    sources = [
        *(row.source for row in figures),
        *(row.source for row in metals),
        lot.density_source,
    ]
    return {
        "source": next(filter(None, sources), ""),
        "density_lb_per_gal": lot.density_lb_per_gal,
        "density_temp_f": lot.density_temp_f,
        **{f"figure_{row.key}": row.pct for row in figures},
        **{f"metal_{row.metal}": row.ppm for row in metals},
    }
