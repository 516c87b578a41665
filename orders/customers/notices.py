"""What the house is told of places customers named or changed."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from django.conf import settings
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from blendshop.accounts.mails import OF_CUSTOMER
from blendshop.languages.choice import in_house_words
from blendshop.notices.actions import Cause, tell
from blendshop.notices.kinds import Kind, register
from blendshop.notices.mail import Letter
from blendshop.notices.models import How
from blendshop.roles import Role
from orders.records.reply_address import house_of

if TYPE_CHECKING:
    from blendshop.accounts.models import User
    from orders.models import ShipTo

CUSTOMER_PLACE: Final = register(
    Kind(
        "customer_place",
        gettext_lazy("Customer's address new or changed"),
        frozenset({Role.REP, Role.OFFICE}),
        {Role.REP: How.MAIL, Role.OFFICE: How.MAIL},
    )
)


@in_house_words()
def tell_place(ship_to: ShipTo, *, by: User, is_new: bool) -> None:
    """Rep and office: a new one waits for its freight, of an old one they are only told."""
    page = reverse("customer_ship_to", args=[ship_to.company_id, ship_to.pk])
    company, label = ship_to.company, ship_to.label
    if is_new:
        text = _("{company} names a new address, {label}; it waits for its freight zone.")
    else:
        text = _("{company} has changed its address {label}.")
    context = {"ship_to": ship_to, "person": by, "is_new": is_new}
    letter = Letter(
        _("{company}: address {label}").format(company=company, label=label),
        render_to_string(
            "orders/customers/mail/house_place.txt",
            {**context, "page_url": settings.SITE_URL + page},
        ),
        reply_to=by.email,
    )
    cause = Cause(
        # The newest row of its history: the same place may be changed again.
        key=f"{ship_to.pk}:{ship_to.history.latest().pk}",
        name=str(company),
        text=text.format(company=company, label=label),
        link=page,
        about=(OF_CUSTOMER, str(ship_to.company_id)),
    )
    tell(CUSTOMER_PLACE, house_of(company), cause, by=by, letter=letter)
