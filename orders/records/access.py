"""One door to each record: what a person may not see is not there (404)."""

from django.shortcuts import get_object_or_404

from blendshop.accounts.models import Company, User
from orders.models import Batch, BatchPart, Order, PackageSerial, Paper, Quote


def get_quote_for(user: User, number: str) -> Quote:
    """The quote with its company, ship-to and author; Http404 for strangers and the plant."""
    quotes = Quote.objects.visible_to(user).select_related("company", "ship_to__zone", "created_by")
    return get_object_or_404(quotes, number=number)


def get_customer_for(user: User, pk: int) -> Company:
    """The customer company; Http404 for people who may not see it."""
    return get_object_or_404(Company.objects.visible_to(user), pk=pk)


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


def get_delivered_part_for(user: User, number: str, position: int) -> BatchPart:
    """A part of a batch as its own customer may ask for it; Http404 for every other company."""
    parts = BatchPart.objects.visible_to(user).select_related("batch", "order_line__order")
    part: BatchPart = get_object_or_404(parts, batch__number=number, position=position)
    return part


def get_package_for(user: User, serial: str) -> PackageSerial:
    """A filled package of a part its customer may see; Http404 for every other company."""
    packages = PackageSerial.objects.filter(part__in=BatchPart.objects.visible_to(user))
    of_part = packages.select_related("part__batch", "part__order_line__order")
    package: PackageSerial = get_object_or_404(of_part, serial=serial)
    return package


def get_paper_for(user: User, pk: int) -> Paper:
    """An issued paper; Http404 for those who may not read the record it belongs to."""
    paper: Paper = get_object_or_404(Paper.objects.visible_to(user), pk=pk)
    return paper
