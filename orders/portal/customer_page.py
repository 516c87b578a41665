"""What the customer pages show."""

from typing import Any

from django.db.models import Count, OuterRef, Q, QuerySet, Subquery
from django.db.models.functions import Coalesce

from blendshop.accounts.models import Company, User
from blendshop.roles import Role, has_role
from formulas.models import Blend
from orders.models import CustomerQuestion, CustomerTerms, Order, OrderLimits, Quote, ShipTo
from orders.quoting.pages import find_quotes

NEWEST = 10


def find_customers(user: User, text: str) -> QuerySet[Company]:
    """Companies by name, person or town."""
    companies = Company.objects.visible_to(user)
    if text := text.strip():
        people = User.objects.filter(Q(name__icontains=text) | Q(email__icontains=text))
        places = ShipTo.objects.filter(Q(city__icontains=text) | Q(label__icontains=text))
        companies = companies.filter(
            Q(name__icontains=text)
            | Q(pk__in=people.values("company"))
            | Q(pk__in=places.values("company"))
        )
    return companies


def with_counts(companies: QuerySet[Company]) -> QuerySet[Company]:
    """With the price tier and the counts a list shows."""
    people = User.objects.filter(is_active=True)
    open_quotes = Quote.objects.filter(status=Quote.Status.SENT)
    # Counted by subqueries: three joins at once would multiply their rows.
    return companies.select_related("terms__tier").annotate(
        people_count=_count(people),
        open_quotes=_count(open_quotes),
        open_orders=_count(Order.objects.open()),
    )


def _count(rows: QuerySet[Any]) -> Coalesce:
    """How many of the rows belong to the company of the outer query."""
    mine = rows.filter(company=OuterRef("pk")).order_by().values("company")
    return Coalesce(Subquery(mine.annotate(count=Count("pk")).values("count")), 0)


def customer_page(company: Company, user: User) -> dict[str, Any]:
    """The context of a customer's page: people, places, terms, blends, quotes, orders."""
    return {
        "company": company,
        "people": company.people.all(),
        "ship_tos": company.ship_tos.select_related("company", "zone"),
        "terms": CustomerTerms.objects.filter(company=company).select_related("tier").first(),
        "limits": OrderLimits.objects.filter(company=company).first(),
        "blends": Blend.objects.visible_to(user)
        .filter(company=company, archived=False)
        .with_latest()[:NEWEST],
        "quotes": find_quotes(user, {}).filter(company=company).for_list()[:NEWEST],
        "orders": Order.objects.visible_to(user).filter(company=company)[:NEWEST],
        "questions": _questions(company, user),
        "sets_terms": has_role(user, Role.OFFICE),
    }


def _questions(company: Company, user: User) -> list[CustomerQuestion]:
    """Those that wait for an answer, and the newest of the others."""
    asked = CustomerQuestion.objects.visible_to(user).filter(company=company)
    asked = asked.select_related("asked_by", "answered_by")
    waiting = asked.filter(answered_at__isnull=True)
    return [*waiting, *asked.filter(answered_at__isnull=False)[:3]]
