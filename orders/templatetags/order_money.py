"""What an order earns, on its page: for the office and the formulator alone."""

from django import template
from django.utils import timezone

from orders.models import Order
from orders.repricing import order_money as of_orders

register = template.Library()


@register.inclusion_tag("orders/repricing/partials/order_money.html")
def order_money(order: Order) -> dict[str, object]:
    """Quoted, at today's costs, and as it was weighed."""
    today = timezone.localdate()
    return {"money": of_orders.order_money(order, today), "today": today}
