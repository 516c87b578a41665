"""Plain-text mail to a customer's people about an order, posted with the change it tells of."""

from django.conf import settings
from django.template.loader import render_to_string
from django.urls import reverse

from blendshop.accounts.models import User
from blendshop.figures.readers import house, read_in
from blendshop.outbox.actions import post_mail
from blendshop.roles import Role
from orders.models import Order
from orders.ordering.made_lines import made_lines
from orders.records.reply_address import reply_address

#: The kind of record an order's mails are about.
ABOUT = "order"


def mail_order(
    order: Order, template: str, subject: str, *, acting_user: User | None = None, why: str = ""
) -> None:
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
    post_mail(
        to=recipients,
        subject=subject.format(number=order.number),
        text=text,
        about=(ABOUT, order.number),
        caused_by=acting_user,
        reply_to=reply_address(order.quote),
    )
