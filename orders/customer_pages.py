"""What the customer pages show."""

from typing import Any

from django.db.models import Count, Q

from blendshop.accounts.models import Company, User
from blendshop.roles import Role, has_role
from formulas.models import Blend
from orders.models import CustomerTerms, Order, Quote, ShipTo
from orders.quote_pages import find_quotes

NEWEST = 10


def find_customers(user: User, text: str) -> Any:
    """Companies by name, person or town, with the counts a list shows."""
    companies = Company.objects.visible_to(user)
    if text := text.strip():
        people = User.objects.filter(Q(name__icontains=text) | Q(email__icontains=text))
        places = ShipTo.objects.filter(Q(city__icontains=text) | Q(label__icontains=text))
        companies = companies.filter(
            Q(name__icontains=text)
            | Q(pk__in=people.values("company"))
            | Q(pk__in=places.values("company"))
        )
    open_orders = Q(orders__status__in=[Order.Status.OPEN, Order.Status.PLANNED, Order.Status.MADE])
    return companies.select_related("terms__tier").annotate(
        people_count=Count("people", filter=Q(people__is_active=True), distinct=True),
        open_quotes=Count("quotes", filter=Q(quotes__status=Quote.Status.SENT), distinct=True),
        open_orders=Count("orders", filter=open_orders, distinct=True),
    )


def customer_page(company: Company, user: User) -> dict[str, Any]:
    """The context of a customer's page: people, places, terms, blends, quotes, orders."""
    return {
        "company": company,
        "people": company.people.all(),
        "ship_tos": company.ship_tos.select_related("company", "zone"),
        "terms": CustomerTerms.objects.filter(company=company).select_related("tier").first(),
        "blends": Blend.objects.visible_to(user)
        .filter(company=company, archived=False)
        .with_latest()[:NEWEST],
        "quotes": find_quotes(user, {}).filter(company=company)[:NEWEST],
        "orders": Order.objects.visible_to(user).filter(company=company)[:NEWEST],
        "sets_terms": has_role(user, Role.OFFICE),
    }
