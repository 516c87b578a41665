"""Quote pages: the list, one quote, the sheet it is written on, and its moves."""

from collections.abc import Callable, Mapping
from functools import partial
from typing import Any, Final

from django.contrib import messages
from django.forms import Form
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from blendshop.accounts.models import User
from blendshop.accounts.security_log import address_of
from blendshop.accounts.signed_in import signed_in
from blendshop.errors import BadInput
from blendshop.outbox.actions import resend_mail
from blendshop.outbox.models import Mail
from blendshop.outbox.standing import mails_about
from blendshop.pages import page_of
from blendshop.roles import SEES_COST, SEES_PRICES, Role, has_role, role_required
from blendshop.searched_rows import SEARCH, options_page, typed_words
from formulas.access import get_revision_for
from orders.customers.actions import take_in_caller
from orders.customers.forms import CallerForm
from orders.models import Paper, Quote
from orders.models.quote import QuoteQuerySet
from orders.papers.views import asked_print
from orders.quoting.actions.quotes import (
    accept_quote,
    approve_quote,
    change_draft,
    decline_quote,
    draft_quote,
    reprice_draft,
    send_back,
    send_quote,
    submit_quote,
    withdraw_quote,
)
from orders.quoting.actions.refusals import CHOICES, WRITES_QUOTES, require_draft, why_closed
from orders.quoting.answer_forms import AnswerForm, ApprovalForm, SeenForm
from orders.quoting.choice_sheet import choice_sheet
from orders.quoting.choices import choices_of
from orders.quoting.forms import (
    QuoteFilter,
    digits,
    of_blends_named,
    offered_revisions,
    offered_ship_tos,
    revision_words,
)
from orders.quoting.links import quote_url
from orders.quoting.mail import ABOUT
from orders.quoting.offered_date import LaterDate
from orders.quoting.pages import Preview, find_quotes, offer_page, preview, quote_page
from orders.quoting.quote_pdf import render_quote
from orders.quoting.sheet import QuoteSheet
from orders.quoting.sprayed_form import SprayedForm
from orders.quoting.view_models import QuoteView
from orders.records.access import get_quote_for
from orders.records.forms import ReasonForm, require_valid, show_refusal
from orders.records.sent_once import key_of_sent
from orders.records.ship_tos import ship_tos_at

QUOTES_A_PAGE = 25
#: The button that takes a new customer in.
TAKE_IN: Final = "take-in"


@role_required(*SEES_PRICES)
@require_safe
def quote_list(request: HttpRequest) -> HttpResponse:
    """The office finds what waits for it on top; a customer sees its own, once sent."""
    user = signed_in(request)
    form = QuoteFilter(request.GET)
    quotes = find_quotes(user, form.cleaned_data if form.is_valid() else {})
    waiting = Quote.objects.none()
    if has_role(user, Role.OFFICE):
        waiting = find_quotes(user, {"status": Quote.Status.AWAITING_APPROVAL}).for_list()
    context = {
        "form": form,
        "page": page_of(
            quotes,
            request.GET.get("page"),
            per_page=QUOTES_A_PAGE,
            read=QuoteQuerySet.for_list,
        ),
        "waiting": waiting,
        "may_write": has_role(user, *WRITES_QUOTES),
        "is_staff_list": has_role(user, *SEES_COST),
    }
    return render(request, "orders/quoting/quote_list.html", context)


@role_required(*SEES_PRICES)
@require_safe
def quote_detail(request: HttpRequest, number: str) -> HttpResponse:
    user = signed_in(request)
    return _quote_page(request, get_quote_for(user, number))


def _quote_page(
    request: HttpRequest, quote: Quote, *, refused: Mapping[str, Form] | None = None
) -> HttpResponse:
    """The page of a quote; ``refused`` are forms that are shown again, by what the page calls them.

    One that was refused keeps what was typed.
    """
    user, status = signed_in(request), BadInput.status if refused else 200
    context = quote_page(quote, user, timezone.localdate())
    if not context["shows_cost"]:
        context |= AnswerForm.pair(choices=choices_of(quote), name=user.name)
        context |= refused or {}
        return render(request, "orders/quoting/quote_detail_customer.html", context, status=status)
    context |= {
        "answer_form": AnswerForm(recorded=True, choices=choices_of(quote)),
        "reason_form": ReasonForm(auto_id="withdraw_%s"),
        "approval_form": ApprovalForm(auto_id="approval_%s"),
        "seen_form": SeenForm(auto_id="send_%s"),
        **(refused or {}),
    }
    if quote.status == Quote.Status.SENT:
        context["public_url"] = quote_url(quote)
    context["mails"] = mails_about(ABOUT, quote.number)
    return render(request, "orders/quoting/quote_detail.html", context, status=status)


@role_required(*WRITES_QUOTES)
@require_safe
def quote_blend_options(request: HttpRequest) -> HttpResponse:
    """Blends of the chosen customer and of the plant's book that fit what is typed."""
    offered = offered_revisions(signed_in(request), digits(request.GET.get("company")))
    found = of_blends_named(offered, typed_words(request))
    return options_page(request, found, revision_words)


@role_required(*WRITES_QUOTES)
@require_safe
def quote_ship_to_options(request: HttpRequest) -> HttpResponse:
    """Addresses of the chosen customer that fit what is typed."""
    theirs = offered_ship_tos(digits(request.GET.get("company")))
    return options_page(request, ship_tos_at(theirs, typed_words(request)), among=theirs)


@role_required(*WRITES_QUOTES)
@require_http_methods(["GET", "HEAD", "POST"])
def quote_new(request: HttpRequest) -> HttpResponse:
    """A blank sheet, with the saved blends on it whose revisions the address names."""
    user = signed_in(request)
    if request.method == "POST":
        return _posted_sheet(request, user, None)
    revisions = [get_revision_for(user, pk) for pk in request.GET.getlist("revision") if pk]
    if len(revisions) in CHOICES:
        return _sheet_page(request, choice_sheet(user, revisions, request.GET), None)
    revision = next(iter(revisions), None)
    return _sheet_page(request, QuoteSheet.blank(user, revision, request.GET), None)


@role_required(*WRITES_QUOTES)
@require_http_methods(["GET", "HEAD", "POST"])
def quote_edit(request: HttpRequest, number: str) -> HttpResponse:
    """The sheet of a draft; afterwards the quote is final and says so."""
    user = signed_in(request)
    quote = get_quote_for(user, number)
    require_draft(quote)
    if request.method == "POST":
        return _posted_sheet(request, user, quote)
    return _sheet_page(request, QuoteSheet.of_quote(user, quote), quote)


def _posted_sheet(request: HttpRequest, user: User, quote: Quote | None) -> HttpResponse:
    """Save, show the price, or rearrange the sheet, as the pressed button says."""
    do = request.POST.get("do", "save")
    if do == TAKE_IN or (do == "save" and _is_caller_alone(request.POST)):
        return _caller_taken_in(request, user, quote)
    if do not in ("save", "preview"):
        return _sheet_page(request, QuoteSheet.rearranged(user, request.POST, do), quote)
    sheet = QuoteSheet(user, data=request.POST)
    if do == "preview":
        return _sheet_page(request, sheet, quote, _priced(sheet))
    if sheet.is_valid():
        if asked := sheet.asked(request.POST.get("meant", ""), quote):
            sheet.question = asked
            return _sheet_page(request, sheet, quote, status=409)
        try:
            saved = _save(sheet, user, quote, request)
        except BadInput as error:
            sheet.refuse(error)
        else:
            messages.success(
                request, _("{number} is saved as a draft.").format(number=saved.number)
            )
            return redirect("quote_detail", saved.number)
    return _sheet_page(request, sheet, quote, status=400)


def _is_caller_alone(sent: QueryDict) -> bool:
    """Whether a new customer was typed and none was chosen, as when Enter is pressed there."""
    return bool(sent.get("caller-name")) and not sent.get("company")


def _caller_taken_in(request: HttpRequest, user: User, quote: Quote | None) -> HttpResponse:
    """The sheet as it was, for the new customer and its place; or with what is amiss in those."""
    sent = request.POST.dict()
    caller, sprayed = CallerForm(sent), SprayedForm(sent)
    if caller.is_valid():
        try:
            ship_to = take_in_caller(
                acting_user=user,
                address=address_of(request),
                sprayed=sprayed.remembered() if sprayed.is_valid() else None,
                **caller.cleaned_data,
            )
        except BadInput as error:
            for name, message in error.fields.items():
                caller.add_error(name if name in caller.fields else None, message)
        else:
            chosen = {"company": str(ship_to.company_id), "ship_to": str(ship_to.pk)}
            typed = {name: text for name, text in sent.items() if not name.startswith("caller-")}
            sheet = QuoteSheet.rearranged(
                user, {**typed, f"company{SEARCH}": "", **chosen}, "refresh"
            )
            sheet.taken_in = ship_to.company.name
            return _sheet_page(request, sheet, quote)
    sheet = QuoteSheet.rearranged(user, sent, "refresh")
    # htmx puts in only what was answered with success.
    status = 200 if request.headers.get("HX-Request") else 400
    return _sheet_page(request, sheet, quote, status=status, caller=caller)


def _save(sheet: QuoteSheet, user: User, quote: Quote | None, request: HttpRequest) -> Quote:
    asked = {"acting_user": user, "once_key": key_of_sent(user, request.POST), **sheet.request()}
    if quote is None:
        return draft_quote(**asked)
    change_draft(quote=quote, seen_event=_seen_event(request), **asked)
    return quote


def _seen_event(request: HttpRequest) -> int | None:
    """The newest event of the draft when its sheet was opened."""
    seen = request.POST.get("seen_event", "")
    return int(seen) if seen.isdecimal() and len(seen) < 19 else None


def _priced(sheet: QuoteSheet) -> Preview:
    if not sheet.has_all_of_a_price():
        return Preview(
            problem=_("The price appears once customer, address and lines are complete.")
        )
    wanted = sheet.form.cleaned_data
    return preview(
        sheet.draft_lines(),
        company=wanted["company"],
        ship_to=wanted["ship_to"],
        today=timezone.localdate(),
        agreed_freight=wanted.get("agreed_freight"),
        deal=sheet.form.quote_deal,
    )


def _sheet_page(
    request: HttpRequest,
    sheet: QuoteSheet,
    quote: Quote | None,
    priced: Preview | None = None,
    status: int = 200,
    caller: CallerForm | None = None,
) -> HttpResponse:
    """The whole page; for htmx only the part that changed."""
    template = "orders/quoting/quote_form.html"
    if request.headers.get("HX-Request"):
        part = "quote_preview" if priced else "quote_form_fields"
        template = f"orders/quoting/partials/{part}.html"
    context: dict[str, Any] = {
        "sheet": sheet,
        "caller": caller or CallerForm.kept({} if sheet.taken_in else request.POST),
        "sprayed": SprayedForm.kept(request.POST or request.GET),
        "quote": quote,
        "preview": priced,
        "action": request.path,
    }
    if quote is not None:
        context["seen_event"] = _seen_event(request) or quote.events.order_by("-pk")[0].pk
    return render(request, template, context, status=status)


@role_required(*WRITES_QUOTES)
@require_POST
def quote_send(request: HttpRequest, number: str) -> HttpResponse:
    """Send a draft, or ask the office first when it is below the floor; or only reprice it."""
    user = signed_in(request)
    quote = get_quote_for(user, number)
    form = SeenForm(request.POST, auto_id="send_%s")
    seen = require_valid(form)
    shown = {name: seen[name] for name in ("seen_total", "seen_choices")}
    if seen["do"] == "reprice":
        reprice_draft(quote=quote, acting_user=user)
        messages.success(request, _("{number} is priced with today's costs.").format(number=number))
    elif quote.needs_approval:
        try:
            submit_quote(quote=quote, acting_user=user, why=seen["why"], **shown)
        except BadInput as refused:
            show_refusal(form, refused)
            return _quote_page(request, quote, refused={"seen_form": form})
        messages.success(
            request, _("{number} waits for the office's approval.").format(number=number)
        )
    else:
        mailed = send_quote(quote=quote, acting_user=user, **shown)
        messages.success(
            request,
            _("{number} is open for {company} to answer.").format(
                number=number, company=quote.company
            ),
        )
        if mailed:
            told = _("It will be mailed to {addresses}.").format(addresses=", ".join(mailed))
            messages.info(request, told)
        else:
            messages.warning(
                request, _("Nobody there has a login, so no mail goes out: pass on the link.")
            )
    return redirect("quote_detail", number)


@role_required(Role.OFFICE)
@require_POST
def quote_approve(request: HttpRequest, number: str) -> HttpResponse:
    user = signed_in(request)
    quote = get_quote_for(user, number)
    form = ApprovalForm(request.POST, auto_id="approval_%s")
    if not _taken(form, partial(_decide, quote, user)):
        return _quote_page(request, quote, refused={"approval_form": form})
    if form.cleaned_data["decision"] == "approve":
        told = _("{number} is approved, and open for {company} to answer.")
    else:
        told = _("{number} is back with {created_by}.")
    words = {"number": number, "company": quote.company, "created_by": quote.created_by}
    messages.success(request, told.format(**words))
    return redirect("quote_detail", number)


def _decide(quote: Quote, user: User, word: dict[str, Any]) -> None:
    act = approve_quote if word["decision"] == "approve" else send_back
    act(quote=quote, acting_user=user, why=word["why"])


def _taken(form: Form, act: Callable[[dict[str, Any]], object]) -> bool:
    """Whether what was typed is right and the action took it; else the form says what is amiss."""
    if not form.is_valid():
        return False
    try:
        act(form.cleaned_data)
    except BadInput as refused:
        show_refusal(form, refused)
        return False
    return True


@role_required(*SEES_COST)
@require_POST
def quote_mail_resend(request: HttpRequest, number: str, pk: int) -> HttpResponse:
    """Try a mail about the quote again that was given up."""
    user = signed_in(request)
    quote = get_quote_for(user, number)
    mail = get_object_or_404(Mail.objects.about(ABOUT, quote.number), pk=pk)
    resend_mail(mail, acting_user=user)
    messages.success(request, _("The mail to {to} will be sent again.").format(to=mail.to))
    return redirect("quote_detail", number)


@role_required(*WRITES_QUOTES)
@require_POST
def quote_withdraw(request: HttpRequest, number: str) -> HttpResponse:
    user = signed_in(request)
    quote = get_quote_for(user, number)
    form = ReasonForm(request.POST, auto_id="withdraw_%s")
    if not _taken(form, lambda said: withdraw_quote(quote=quote, acting_user=user, **said)):
        return _quote_page(request, quote, refused={"reason_form": form})
    messages.success(request, _("{number} is withdrawn.").format(number=number))
    return redirect("quote_detail", number)


def _ask_first(
    request: HttpRequest, quote: Quote, form: AnswerForm, *, status: int = 200
) -> HttpResponse:
    """Whether it is meant, and what is said beside it; again where that was refused."""
    context = {
        **offer_page(quote, timezone.localdate(), taken=form.cleaned_data.get("choice")),
        "form": form,
        "page": reverse("quote_detail", args=[quote.number]),
        "to": reverse("quote_decide", args=[quote.number]),
    }
    return render(request, "orders/quoting/accept_quote.html", context, status=status)


def _answer_refused(
    request: HttpRequest, quote: Quote, form: AnswerForm, *, recorded: bool
) -> HttpResponse:
    """The page it was typed on, with what was typed and what is amiss."""
    if form.was_asked:
        return _ask_first(request, quote, form, status=BadInput.status)
    name = "answer_form" if recorded else "decline_form" if form.is_decline else "form"
    return _quote_page(request, quote, refused={name: form})


@role_required(Role.CUSTOMER, *WRITES_QUOTES)
@require_POST
def quote_decide(request: HttpRequest, number: str) -> HttpResponse:
    """The signed-in customer answers; a rep or the office records an answer by telephone."""
    user = signed_in(request)
    quote = get_quote_for(user, number)
    recorded = has_role(user, *WRITES_QUOTES)
    form = AnswerForm(request.POST, choices=choices_of(quote), recorded=recorded)
    today = timezone.localdate()
    if not form.is_valid():
        return _answer_refused(request, quote, form, recorded=recorded)
    word = form.cleaned_data
    if form.asks_first and not recorded and not why_closed(quote, today):
        return _ask_first(request, quote, form)
    if word["decision"] == "accept":
        try:
            order = accept_quote(quote=quote, acting_user=user, **form.accepted)
        except LaterDate as later:  # the page says it too, and sends it along the next time
            messages.warning(request, later.message)
            return redirect("quote_detail", number)
        except BadInput as refused:
            show_refusal(form, refused)
            return _answer_refused(request, quote, form, recorded=recorded)
        messages.success(
            request,
            _("{number} is accepted; it is order {order}.").format(
                number=number, order=order.number
            ),
        )
        return redirect("order_detail", order.number)
    decline_quote(quote=quote, acting_user=user, name=word["name"], why=word["why"])
    messages.success(request, _("{number} is declined.").format(number=number))
    return redirect("quote_detail", number)


@role_required(*SEES_PRICES)
@require_safe
def quote_pdf(request: HttpRequest, number: str) -> HttpResponse:
    """The paper as it was issued when the quote was sent; a draft has none yet."""
    quote = get_quote_for(signed_in(request), number)
    issued = get_object_or_404(Paper.objects.filter(quote=quote)[:1])
    return asked_print(request, issued, QuoteView, render_quote)
