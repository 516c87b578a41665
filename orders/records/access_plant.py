"""One door to each order, batch, part and paper: what a person may not see is not there (404)."""

from django.core.exceptions import PermissionDenied
from django.http import HttpRequest
from django.shortcuts import get_object_or_404

from blendshop.accounts.models import User
from orders.models import Batch, BatchPart, Order, Paper


def signed_in(request: HttpRequest) -> User:
    """The person behind a request; the sign-in middleware has already turned visitors away."""
    if not isinstance(request.user, User):
        raise PermissionDenied
    return request.user


def get_order_for(user: User, number: str) -> Order:
    """The order with its company, ship-to and quote; Http404 for strangers."""
    orders = Order.objects.visible_to(user).select_related("company", "ship_to", "quote")
    return get_object_or_404(orders, number=number)


def get_batch_for(user: User, number: str) -> Batch:
    """The batch with its tank, parts and their customers; Http404 for all but staff."""
    return get_object_or_404(Batch.objects.visible_to(user).for_list(), number=number)


def get_part_for(user: User, number: str, position: int) -> BatchPart:
    """A part of a batch with its order, customer and tank; Http404 for all but staff."""
    batch = get_batch_for(user, number)
    parts = batch.parts.select_related("batch__tank", "order_line__order__company")
    part: BatchPart = get_object_or_404(parts, position=position)
    return part


def get_paper_for(user: User, pk: int) -> Paper:
    """An issued paper; Http404 for those who may not read the record it belongs to."""
    paper: Paper = get_object_or_404(Paper.objects.visible_to(user), pk=pk)
    return paper
