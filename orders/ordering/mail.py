"""Plain-text mail to a customer's people about an order, sent only after the commit."""

from functools import partial

from django.conf import settings
from django.core.mail import send_mail
from django.db import transaction
from django.template.loader import render_to_string
from django.urls import reverse

from blendshop.accounts.models import User
from blendshop.figures.readers import house, read_in
from blendshop.roles import Role
from orders.models import Order
from orders.ordering.made_lines import made_lines


def mail_order(order: Order, template: str, subject: str, *, why: str = "") -> None:
    """Mail everybody of the customer who can sign in; nobody is mailed if the change fails."""
    people = User.objects.filter(
        company=order.company_id, is_active=True, groups__name=Role.CUSTOMER.value
    )
    recipients = list(people.values_list("email", flat=True))
    if not recipients:
        return
    with read_in(house()):  # several people read it, whoever sends it
        text = render_to_string(
            template,
            {
                "order": order,
                "lines": made_lines(order.lines.select_related("revision__blend", "package")),
                "page_url": settings.SITE_URL + reverse("order_detail", args=[order.number]),
                "why": why,
            },
        )
    send = partial(
        send_mail,
        subject.format(number=order.number),
        text,
        settings.DEFAULT_FROM_EMAIL,
        recipients,
    )
    # robust: an unreachable mail server must not turn a finished order into an error page.
    transaction.on_commit(send, robust=True)
