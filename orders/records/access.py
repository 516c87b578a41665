"""One door to each quote and customer: what a person may not see does not exist (404)."""

from django.shortcuts import get_object_or_404

from blendshop.accounts.models import Company, User
from orders.models import Quote


def get_quote_for(user: User, number: str) -> Quote:
    """The quote with its company, ship-to and author; Http404 for strangers and the plant."""
    quotes = Quote.objects.visible_to(user).select_related("company", "ship_to__zone", "created_by")
    return get_object_or_404(quotes, number=number)


def get_customer_for(user: User, pk: int) -> Company:
    """The customer company; Http404 for people who may not see it."""
    return get_object_or_404(Company.objects.visible_to(user), pk=pk)
