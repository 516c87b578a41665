"""Seasons of all customers, of one customer with its properties, and a property."""

from __future__ import annotations

from typing import Final

from django.contrib import messages
from django.db.models import Count, Q
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from blendshop.accounts.models import Company, User
from blendshop.accounts.search import named
from blendshop.accounts.signed_in import signed_in
from blendshop.errors import NotAllowed
from blendshop.pages import page_of
from blendshop.roles import role_required
from orders.models import Property, SeasonProgram, StandingRound
from orders.models.season import SeasonProgramQuerySet
from orders.records.access import get_customer_for
from orders.records.forms import Refusals
from orders.season.access import (
    SEES_SEASONS,
    get_property_for,
    is_house,
    may_change,
    require_may_change,
)
from orders.season.actions.programs import save_property
from orders.season.forms import PropertyForm, SeasonFilter

SEASONS_A_PAGE: Final = 30
PROPERTIES_A_PAGE: Final = 50
_CUSTOMERS_SHOWN: Final = 8


@role_required(*SEES_SEASONS)
@require_safe
def season_list(request: HttpRequest) -> HttpResponse:
    """The house finds a customer's seasons; a customer's person sees those of its company."""
    user = signed_in(request)
    if not is_house(user):
        if user.company is None:
            raise NotAllowed(_("Only a customer plans a season here."))
        return _customer_page(request, user, user.company)
    form = SeasonFilter(request.GET or None)
    found = SeasonProgram.objects.visible_to(user)
    customers: list[Company] = []
    if form.is_valid():
        if year := form.cleaned_data["year"]:
            found = found.filter(year=year)
        if words := form.cleaned_data["q"]:
            companies = named(Company.objects.visible_to(user), words)
            found = found.filter(Q(company__in=companies) | Q(name__icontains=words))
            customers = list(companies.filter(active=True)[:_CUSTOMERS_SHOWN])
    page = page_of(
        found.order_by("-year", "-pk"),
        request.GET.get("page"),
        per_page=SEASONS_A_PAGE,
        read=_for_list,
    )
    context = {"form": form, "page": page, "customers": customers}
    return render(request, "orders/season/season_list.html", context)


def _for_list(programs: SeasonProgramQuerySet) -> SeasonProgramQuerySet:
    waits = Q(standing_order__rounds__in=StandingRound.objects.waiting())
    return programs.select_related("company", "standing_order").annotate(
        round_count=Count("rounds", distinct=True),
        waiting_count=Count("standing_order__rounds", filter=waits, distinct=True),
    )


@role_required(*SEES_SEASONS)
@require_safe
def season_customer(request: HttpRequest, pk: int) -> HttpResponse:
    """One customer: its seasons, then its properties."""
    user = signed_in(request)
    return _customer_page(request, user, get_customer_for(user, pk))


def _customer_page(request: HttpRequest, user: User, company: Company) -> HttpResponse:
    programs = page_of(
        SeasonProgram.objects.visible_to(user).filter(company=company).order_by("-year", "name"),
        request.GET.get("page"),
        per_page=SEASONS_A_PAGE,
        read=_for_list,
    )
    properties = Property.objects.visible_to(user).filter(company=company)
    context = {
        "company": company,
        "page": programs,
        "properties": properties.order_by("-active", "name")[:PROPERTIES_A_PAGE],
        "may_change": may_change(user, company),
        "year": timezone.localdate().year,
    }
    return render(request, "orders/season/season_customer.html", context)


@role_required(*SEES_SEASONS)
@require_http_methods(["GET", "HEAD", "POST"])
def season_property_new(request: HttpRequest, pk: int) -> HttpResponse:
    """A new property or route of a customer."""
    company = get_customer_for(signed_in(request), pk)
    return _property_form(request, company, None)


@role_required(*SEES_SEASONS)
@require_http_methods(["GET", "HEAD", "POST"])
def season_property(request: HttpRequest, pk: int) -> HttpResponse:
    """Change a property or route."""
    row = get_property_for(signed_in(request), pk)
    return _property_form(request, row.company, row)


def _property_form(request: HttpRequest, company: Company, row: Property | None) -> HttpResponse:
    user = signed_in(request)
    require_may_change(user, company)
    sent = request.POST if request.method == "POST" else None
    form = PropertyForm(sent, instance=row or Property(company=company))
    refusals = Refusals(form)
    if sent is not None and refusals.taken(
        lambda typed: save_property(acting_user=user, company=company, row=row, **typed)
    ):
        messages.success(request, _("{name} is saved.").format(name=form.cleaned_data["name"]))
        return redirect("season_customer", company.pk)
    status = refusals.status if sent is not None else 200
    context = {"form": form, "company": company, "row": row}
    return render(request, "orders/season/season_property.html", context, status=status)
