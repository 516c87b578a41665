"""Who answers a customer for a quote and for the order it became."""

from django.db.models import QuerySet

from blendshop.accounts.models import Company, User
from blendshop.roles import Role, has_role
from orders.models import Order, PlantProfile, Quote


def rep_of(quote: Quote) -> User | None:
    """Who wrote it, while that person is a rep or of the office."""
    by = quote.created_by
    return by if by.is_active and has_role(by, Role.REP, Role.OFFICE) else None


def rep_of_company(company: Company) -> User | None:
    """Who wrote its newest quote that went out, while that person is a rep or of the office."""
    newest = Quote.objects.published().filter(company=company).order_by("-created_at", "-pk")
    quote = newest.select_related("created_by").first()
    return rep_of(quote) if quote else None


def rep_of_order(order: Order) -> User | None:
    """Who wrote its quote, else who wrote the company's newest one."""
    rep = rep_of(order.quote) if order.quote else None
    return rep or rep_of_company(order.company)


def reply_address(quote: Quote | None) -> str:
    """The rep's address, or else the plant's own; of an order without a quote the plant's."""
    rep = rep_of(quote) if quote else None
    return rep.email if rep else PlantProfile.load().email


def house_of(company: Company) -> QuerySet[User]:
    """Who is told what a customer does: its rep, or all reps without one, and the office."""
    people = User.objects.filter(is_active=True)
    rep = rep_of_company(company)
    reps = people.filter(pk=rep.pk) if rep else people.filter(groups__name=Role.REP.value)
    return reps | people.filter(groups__name=Role.OFFICE.value)
