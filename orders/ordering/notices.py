"""What the house is told of orders: what a customer did with its own, and what has left."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from django.conf import settings
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from blendshop.figures.readers import house
from blendshop.languages.choice import in_house_words
from blendshop.notices.actions import Cause, people_of, tell
from blendshop.notices.kinds import Kind, register
from blendshop.notices.models import How
from blendshop.roles import Role
from formulas.blends.reviews import not_reviewed
from orders.models import Order
from orders.ordering.mail import ABOUT, house_letter
from orders.planning.planned_recipes import making_revisions
from orders.records.reply_address import rep_of_order

if TYPE_CHECKING:
    from django.db.models import QuerySet

    from blendshop.accounts.models import User
    from blendshop.notices.mail import Letter

_HOUSE: Final = frozenset({Role.REP, Role.OFFICE})
_BY_MAIL: Final = {Role.REP: How.MAIL, Role.OFFICE: How.MAIL}

REQUEST_WAITS: Final = register(
    Kind("request_waits", gettext_lazy("Request waits"), _HOUSE | {Role.FORMULATOR}, _BY_MAIL)
)
CUSTOMER_ORDERED: Final = register(
    Kind("customer_ordered", gettext_lazy("Customer ordered or cancelled"), _HOUSE, _BY_MAIL)
)
CUSTOMER_ASKED: Final = register(
    Kind("customer_asked", gettext_lazy("Customer asks about an order"), _HOUSE, _BY_MAIL)
)
UNREVIEWED: Final = register(
    Kind(
        "recipe_unreviewed",
        gettext_lazy("Ordered recipe not reviewed"),
        frozenset({Role.FORMULATOR}),
        {Role.FORMULATOR: How.DAILY},
    )
)
SHIPPED: Final = register(Kind("order_shipped", gettext_lazy("Order shipped"), _HOUSE))


@in_house_words()
def tell_ordered(order: Order, *, by: User | None) -> None:
    """The house of what its customer ordered or asks for; a request also those who review it."""
    total = house().money(order.total, settings.CURRENCY)
    template = "orders/ordering/mail/house_ordered.txt"
    if order.status == Order.Status.REQUESTED:
        text = _("{company} asks for {number}, {total}; it waits for an answer.")
        letter = house_letter(order, template, _("{company} asks for an order: {number}"))
        kind, people = REQUEST_WAITS, _house_of(order) | people_of(Role.FORMULATOR)
    else:
        text = _("{company} has ordered {number}, {total}.")
        letter = house_letter(order, template, _("{company} has ordered: {number}"))
        kind, people = CUSTOMER_ORDERED, _house_of(order)
    text = text.format(company=order.company, number=order.number, total=total)
    _tell(kind, order, people, text, by=by, letter=letter)


@in_house_words()
def tell_unreviewed(order: Order, *, by: User | None) -> None:
    """Formulators, of recipes nobody has reviewed under an order that stands.

    An accepted quote is no review: it is the plant's offer and holds, and its recipe is still to
    be looked at before it is made.
    """
    lines = order.lines.select_related("revision__blend")
    missing = not_reviewed(making_revisions(lines).values())
    if not missing:
        return
    text = _("{number} for {company}, due {day}: nobody has reviewed {recipes}.").format(
        number=order.number,
        company=order.company,
        day=house().date(order.due_on),
        recipes=", ".join(map(str, missing)),
    )
    link = reverse("requests_waiting") + "#unreviewed"
    _tell(UNREVIEWED, order, people_of(Role.FORMULATOR), text, by=by, link=link)


@in_house_words()
def tell_cancelled_by_customer(order: Order, why: str, *, by: User) -> None:
    letter = house_letter(
        order,
        "orders/ordering/mail/house_cancelled.txt",
        _("{company} has cancelled {number}"),
        why=why,
    )
    text = _("{company} has cancelled {number}.")
    text = text.format(company=order.company, number=order.number)
    _tell(CUSTOMER_ORDERED, order, _house_of(order), text, by=by, letter=letter)


@in_house_words()
def tell_asked(order: Order, question: str, *, by: User) -> None:
    letter = house_letter(
        order,
        "orders/ordering/mail/house_asked.txt",
        _("{company} asks about {number}"),
        why=question,
    )
    text = _("{company} asks about {number}: {question}").format(
        company=order.company, number=order.number, question=question
    )
    _tell(CUSTOMER_ASKED, order, _house_of(order), text, by=by, letter=letter)


@in_house_words()
def tell_shipped(order: Order, *, by: User) -> None:
    """The rep: whoever asks where an order is asks there."""
    text = _("{number} for {company} has left.").format(number=order.number, company=order.company)
    rep = rep_of_order(order)
    people = people_of(also=[rep.pk]) if rep else people_of(Role.REP)
    _tell(SHIPPED, order, people, text, by=by)


def _house_of(order: Order) -> QuerySet[User]:
    """The customer's rep, or all reps where none is known, and the office."""
    rep = rep_of_order(order)
    if rep is None:
        return people_of(Role.REP, Role.OFFICE)
    return people_of(Role.OFFICE, also=[rep.pk])


def _tell(
    kind: Kind,
    order: Order,
    people: QuerySet[User],
    text: str,
    *,
    by: User | None,
    letter: Letter | None = None,
    link: str = "",
) -> None:
    event = order.events.order_by("-pk")[0]
    cause = Cause(
        key=f"{order.number}:{event.pk}",
        name=order.number,
        text=text,
        link=link or reverse("order_detail", args=[order.number]),
        about=(ABOUT, order.number),
    )
    tell(kind, people, cause, by=by, letter=letter)
