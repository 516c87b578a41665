"""Customer pages: the list, one customer, its people and addresses."""

from django.contrib import messages
from django.db.models import Q
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from blendshop.accounts.mails import OF_CUSTOMER
from blendshop.accounts.models import Company
from blendshop.accounts.search import named
from blendshop.accounts.security_log import address_of
from blendshop.accounts.signed_in import signed_in
from blendshop.errors import BadInput
from blendshop.outbox.actions import resend_mail
from blendshop.outbox.models import Mail
from blendshop.outbox.standing import mails_about
from blendshop.pages import page_of
from blendshop.roles import STAFF, Role, role_required
from blendshop.searched_rows import options_page, typed_words
from orders.customers.actions import (
    KEEPS_CUSTOMERS,
    add_company,
    add_person,
    add_ship_to,
    change_company,
    change_ship_to,
    set_terms,
)
from orders.customers.forms import CompanyForm, CustomerSearch, PersonForm, ShipToForm, TermsForm
from orders.models import CustomerTerms, Order, ShipTo
from orders.portal.customer_page import customer_page, find_customers, with_counts
from orders.records.access import get_customer_for
from orders.records.forms import require_valid

CUSTOMERS_A_PAGE = 40


@role_required(*KEEPS_CUSTOMERS)
@require_safe
def customer_list(request: HttpRequest) -> HttpResponse:
    form = CustomerSearch(request.GET)
    text = form.cleaned_data["q"] if form.is_valid() else ""
    companies = find_customers(signed_in(request), text)
    page = page_of(companies, request.GET.get("page"), per_page=CUSTOMERS_A_PAGE, read=with_counts)
    return render(request, "orders/portal/customer_list.html", {"form": form, "page": page})


@role_required(*STAFF)
@require_safe
def customer_options(request: HttpRequest) -> HttpResponse:
    """Customers that fit what is typed: those of the person, and whoever has an order it sees."""
    user = signed_in(request)
    with_orders = Order.objects.visible_to(user).values("company")
    companies = Company.objects.filter(
        Q(pk__in=Company.objects.visible_to(user).values("pk")) | Q(pk__in=with_orders)
    )
    return options_page(request, named(companies, typed_words(request)))


@role_required(*KEEPS_CUSTOMERS)
@require_safe
def customer_detail(request: HttpRequest, pk: int) -> HttpResponse:
    user = signed_in(request)
    company = get_customer_for(user, pk)
    context = {
        **customer_page(company, user),
        "person_form": PersonForm(),
        "mails": mails_about(OF_CUSTOMER, str(company.pk)),
    }
    return render(request, "orders/portal/customer_detail.html", context)


@role_required(*KEEPS_CUSTOMERS)
@require_http_methods(["GET", "HEAD", "POST"])
def customer_new(request: HttpRequest) -> HttpResponse:
    user = signed_in(request)
    form = CompanyForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            company = add_company(acting_user=user, **form.cleaned_data)
        except BadInput as error:
            _show(form, error)
        else:
            messages.success(
                request,
                _("{company} is added; now its address and its people.").format(company=company),
            )
            return redirect("customer_detail", company.pk)
    context = {"form": form, "company": None}
    return render(request, "orders/portal/customer_form.html", context, status=_status(request))


@role_required(*KEEPS_CUSTOMERS)
@require_http_methods(["GET", "HEAD", "POST"])
def customer_edit(request: HttpRequest, pk: int) -> HttpResponse:
    user = signed_in(request)
    company = get_customer_for(user, pk)
    initial = {name: getattr(company, name) for name in CompanyForm.base_fields}
    form = CompanyForm(request.POST or None, initial=initial, company=company)
    if request.method == "POST" and form.is_valid():
        try:
            change_company(acting_user=user, company=company, **form.cleaned_data)
        except BadInput as error:
            _show(form, error)
        else:
            messages.success(request, _("{company} is changed.").format(company=company))
            return redirect("customer_detail", pk)
    context = {"form": form, "company": company}
    return render(request, "orders/portal/customer_form.html", context, status=_status(request))


@role_required(Role.OFFICE)
@require_http_methods(["GET", "HEAD", "POST"])
def customer_terms(request: HttpRequest, pk: int) -> HttpResponse:
    user = signed_in(request)
    company = get_customer_for(user, pk)
    terms = CustomerTerms.objects.filter(company=company).first()
    initial = {"tier": terms.tier_id, "payment_terms": terms.payment_terms} if terms else {}
    form = TermsForm(request.POST if request.method == "POST" else None, initial=initial)
    if request.method == "POST" and form.is_valid():
        set_terms(acting_user=user, company=company, **form.cleaned_data)
        messages.success(request, _("The terms of {company} are set.").format(company=company))
        return redirect("customer_detail", pk)
    context = {"form": form, "company": company}
    return render(request, "orders/portal/customer_terms.html", context, status=_status(request))


@role_required(*KEEPS_CUSTOMERS)
@require_POST
def customer_add_person(request: HttpRequest, pk: int) -> HttpResponse:
    user = signed_in(request)
    company = get_customer_for(user, pk)
    wanted = require_valid(PersonForm(request.POST))
    person = add_person(acting_user=user, company=company, address=address_of(request), **wanted)
    messages.success(
        request,
        _("{person} is added; a link to choose a password will be mailed to {email}.").format(
            person=person, email=person.email
        ),
    )
    return redirect("customer_detail", pk)


@role_required(*KEEPS_CUSTOMERS)
@require_POST
def customer_mail_resend(request: HttpRequest, pk: int, mail_pk: int) -> HttpResponse:
    """Try a mail to one of the customer's people again that was given up."""
    user = signed_in(request)
    company = get_customer_for(user, pk)
    mail = get_object_or_404(Mail.objects.about(OF_CUSTOMER, str(company.pk)), pk=mail_pk)
    resend_mail(mail, acting_user=user)
    messages.success(request, _("The mail to {to} will be sent again.").format(to=mail.to))
    return redirect("customer_detail", pk)


@role_required(*KEEPS_CUSTOMERS)
@require_http_methods(["GET", "HEAD", "POST"])
def customer_ship_to(request: HttpRequest, pk: int, ship_to_pk: int | None = None) -> HttpResponse:
    """Add an address, or correct one."""
    user = signed_in(request)
    company = get_customer_for(user, pk)
    ship_to = get_object_or_404(ShipTo, company=company, pk=ship_to_pk) if ship_to_pk else None
    blank = ShipTo(company=company)
    form = ShipToForm(request.POST or None, instance=ship_to or blank)
    if request.method == "POST" and form.is_valid():
        try:
            if ship_to:
                change_ship_to(acting_user=user, ship_to=ship_to, **form.cleaned_data)
            else:
                add_ship_to(acting_user=user, company=company, **form.cleaned_data)
        except BadInput as error:
            _show(form, error)
        else:
            messages.success(
                request, _("The address {label} is saved.").format(label=form.cleaned_data["label"])
            )
            return redirect("customer_detail", pk)
    context = {"form": form, "company": company, "ship_to": ship_to}
    return render(request, "orders/portal/customer_ship_to.html", context, status=_status(request))


def _show(form: CompanyForm | ShipToForm, error: BadInput) -> None:
    """The action's sentence, at the field it speaks of if the form has it."""
    for name, message in error.fields.items():
        form.add_error(name if name in form.fields else None, message)


def _status(request: HttpRequest) -> int:
    """A form shown again after a post is a bad request."""
    return 400 if request.method == "POST" else 200
