"""How much of what waits there is, where those who decide it begin their day."""

from typing import Any

from django import template

from blendshop.accounts.models import User
from orders.requests.waiting import count_waiting

register = template.Library()


@register.inclusion_tag("orders/requests/partials/waiting_line.html", takes_context=True)
def requests_line(context: dict[str, Any]) -> dict[str, object]:
    """A line that leads to them; nothing for others, or where nothing waits."""
    user = context.get("user")
    return {"counts": count_waiting(user) if isinstance(user, User) else ()}
