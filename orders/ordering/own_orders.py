"""What a customer may still do with its own order: cancel it, or ask the plant about it."""

from __future__ import annotations

from django.db import transaction
from django.db.models import Exists, OuterRef, Q
from django.utils.translation import gettext as _

from blendshop.accounts.models import User
from blendshop.errors import BadInput, IllegalMove
from blendshop.roles import Role, require_role
from orders.models import Order, OrderEvent
from orders.ordering.actions import require_may_order_for
from orders.ordering.mail import mail_house, mail_order
from orders.records.moves import move, note

#: Keys in the data of the events of a question and of its answer.
ASKED, ANSWERED = "asked", "answered"
ANSWERERS = (Role.REP, Role.OFFICE)


def why_fixed(order: Order) -> str:
    """Why its customer can neither change nor cancel it by itself; empty while it can."""
    if order.status in (Order.Status.REQUESTED, Order.Status.OPEN):
        return ""
    if order.status in Order.ENDED:
        return _("{number} is {status}.").format(
            number=order.number, status=order.get_status_display()
        )
    return _("{number} is planned already; ask us, and we see what can be done.").format(
        number=order.number
    )


def cancel_own_order(*, order: Order, acting_user: User, why: str = "") -> None:
    """The customer takes back an order or request while nothing of it is planned."""
    require_role(acting_user, Role.CUSTOMER)
    require_may_order_for(acting_user, order.company)
    if told := why_fixed(order):
        raise IllegalMove(told)
    told = why.strip() or "Cancelled by its customer."
    with transaction.atomic():
        # Planning moves the order on under the same guard: only one of the two comes through.
        move(order, Order.Status.CANCELLED, acting_user=acting_user, why=told)
        subject = _("Order {number} is cancelled")
        template = "orders/ordering/mail/order_cancelled.txt"
        mail_order(order, template, subject, acting_user=acting_user, why=told)
        mail_house(
            order,
            "orders/ordering/mail/house_cancelled.txt",
            _("{company} has cancelled {number}"),
            acting_user=acting_user,
            why=told,
        )


def ask_about(*, order: Order, acting_user: User, text: str) -> None:
    """The customer wants something else of an order; it stands with the rep until answered."""
    require_role(acting_user, Role.CUSTOMER)
    require_may_order_for(acting_user, order.company)
    _require_text(text)
    if order.status in Order.ENDED:
        raise IllegalMove(why_fixed(order))
    with transaction.atomic():
        note(order, acting_user=acting_user, why=text.strip(), data={ASKED: True})
        mail_house(
            order,
            "orders/ordering/mail/house_asked.txt",
            _("{company} asks about {number}"),
            acting_user=acting_user,
            why=text.strip(),
        )


def answer_about(*, order: Order, acting_user: User, text: str) -> None:
    """The house answers; the customer reads it on the order and in a mail."""
    require_role(acting_user, *ANSWERERS)
    _require_text(text)
    with transaction.atomic():
        note(order, acting_user=acting_user, why=text.strip(), data={ANSWERED: True})
        mail_order(
            order,
            "orders/ordering/mail/order_answered.txt",
            _("Your question about {number}"),
            acting_user=acting_user,
            why=text.strip(),
        )


def open_questions() -> list[OrderEvent]:
    """The newest question of each order that nobody has answered since, the oldest first."""
    later = OrderEvent.objects.filter(order=OuterRef("order"), pk__gt=OuterRef("pk"))
    answered = later.filter(data__answered=True)
    asked_again = later.filter(data__asked=True)
    questions = OrderEvent.objects.filter(data__asked=True).exclude(order__status__in=Order.ENDED)
    waiting = questions.filter(~Exists(answered), ~Exists(asked_again))
    return list(waiting.select_related("order__company").order_by("pk"))


def has_question(order: Order) -> bool:
    """Whether its customer waits for an answer."""
    said = order.events.filter(Q(data__asked=True) | Q(data__answered=True)).order_by("-pk")
    newest = said.first()
    return newest is not None and bool(newest.data.get(ASKED))


def _require_text(text: str) -> None:
    if not text.strip():
        message = _("Write what it is about.")
        raise BadInput(message, fields={"why": message})
