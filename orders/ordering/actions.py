"""Orders: placed from an accepted quote or a reorder, or asked for; dated, shipped, cancelled."""

from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from typing import Final

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext, gettext_noop

from blendshop.accounts.models import Company, User
from blendshop.errors import BadInput, ChangedMeanwhile, IllegalMove, NotAllowed
from blendshop.figures.readers import house
from blendshop.roles import Role, has_role, require_role
from orders.inventory.holds import require_no_hold
from orders.labels.standing import require_approved_labels
from orders.models import Batch, Order, OrderLine, Quote, ShipTo
from orders.ordering.labelled_elsewhere import labelled_elsewhere
from orders.ordering.mail import CONFIRMED, mail_order
from orders.ordering.notices import (
    tell_asked,
    tell_cancelled_by_customer,
    tell_ordered,
    tell_shipped,
    tell_unreviewed,
)
from orders.ordering.own_orders import ANSWERED, ANSWERERS, ASKED, why_fixed
from orders.planning.actions.reservations import reserve_for_order
from orders.planning.due_dates import read_due_dates
from orders.production.actions.batches import locked_orders, reopen_without_batches
from orders.production.agreement import not_agreed, not_agreed_words
from orders.production.filling import unfilled_words
from orders.records.moves import move, note, require_move
from orders.records.numbering import next_number

ORDER_PREFIX: Final = "O"
DATE_SETTERS: Final = (Role.REP, Role.OFFICE, Role.PLANT)
SHIPPERS: Final = (Role.PLANT, Role.OFFICE)
CANCELLERS: Final = (Role.REP, Role.OFFICE)
#: Figures an order line takes over from a quote line, unchanged.
FROZEN_FIGURES: Final = (
    "revision",
    "package",
    "quantity",
    "n_rate_lb_per_1000sqft",
    "volume_gal",
    "mass_lb",
    "price",
    "price_per_gal",
    "line_total",
    "deposit",
)


def create_order_from_quote(
    *,
    quote: Quote,
    acting_user: User | None,
    accepted_by: str,
    due_on: date | None = None,
    customer_reference: str = "",
    wanted_on: date | None = None,
    customer_note: str = "",
) -> Order:
    """The order of an accepted quote, at its frozen figures. Asked again, it returns the same.

    ``acting_user`` is None when the customer accepted by the signed link; ``accepted_by`` is
    the name given there. IllegalMove unless the quote is accepted.
    """
    if acting_user is not None:
        require_may_order_for(acting_user, quote.company)
    if quote.status != Quote.Status.ACCEPTED:
        raise IllegalMove(
            gettext("{number} is {status}, not accepted.").format(
                number=quote.number, status=quote.get_status_display()
            )
        )
    with transaction.atomic():
        Quote.objects.select_for_update().get(pk=quote.pk)  # two clicks: the second waits here
        existing = Order.objects.filter(quote=quote).first()
        if existing is not None:
            return existing
        lines = [
            OrderLine(position=position, **{name: getattr(line, name) for name in FROZEN_FIGURES})
            for position, line in enumerate(
                quote.taken_lines().select_related("revision", "package"), start=1
            )
        ]
        return place_order(
            company=quote.company,
            ship_to=quote.ship_to,
            lines=lines,
            total=quote.total,
            deposit_total=quote.deposit_total,
            acting_user=acting_user,
            who=accepted_by,
            why=f"Quote {quote.number} accepted.",
            quote=quote,
            due_on=due_on,
            customer_reference=customer_reference,
            wanted_on=wanted_on or quote.wanted_on,
            customer_note=customer_note,
        )


def place_order(
    *,
    company: Company,
    ship_to: ShipTo,
    lines: Sequence[OrderLine],
    total: Decimal,
    deposit_total: Decimal,
    acting_user: User | None,
    who: str,
    why: str,
    quote: Quote | None = None,
    once_key: str | None = None,
    due_on: date | None = None,
    customer_reference: str = "",
    wanted_on: date | None = None,
    customer_note: str = "",
    held_because: Sequence[str] = (),
) -> Order:
    """Write an order with its lines (unsaved, complete figures), its event and its mails.

    ``due_on`` is the date that was shown to whoever orders; without one it is the earliest that
    can be kept. With ``held_because`` it is a request: it reserves nothing and takes no place in
    the tanks until it is released.
    """
    if acting_user is not None:
        require_may_order_for(acting_user, company)
    if not lines:
        raise BadInput(gettext("An order needs at least one line."))
    with transaction.atomic():
        order = Order.objects.create(
            number=next_number(ORDER_PREFIX),
            quote=quote,
            company=company,
            ship_to=ship_to,
            due_on=due_on or read_due_dates(timezone.localdate()).of_lines(lines).due_on,
            once_key=once_key,
            customer_reference=customer_reference,
            wanted_on=wanted_on,
            note=customer_note,
            placed_by=acting_user if acting_user and not _is_house(acting_user) else None,
            status=Order.Status.REQUESTED if held_because else Order.Status.OPEN,
            held_because=list(held_because),
            total=total,
            deposit_total=deposit_total,
        )
        for line in lines:
            line.order = order
            line.keep_money()
        OrderLine.objects.bulk_create(lines)
        if not held_because:
            reserve_for_order(order)
        told = " ".join([why, *held_because])
        note(order, acting_user=acting_user, who=who, why=told, new=True)
        tell_of_order(order, acting_user)
        if not held_because:
            tell_unreviewed(order, by=acting_user)
    return order


def tell_of_order(order: Order, acting_user: User | None) -> None:
    """Mail the customer that it is ordered or asked for, and the house what its customer did."""
    if order.status == Order.Status.REQUESTED:
        template = "orders/ordering/mail/order_requested.txt"
        subject = gettext_noop("{number} waits for our word")
    else:
        template = "orders/ordering/mail/order_confirmed.txt"
        subject = CONFIRMED
    mail_order(order, template, subject, acting_user=acting_user)
    if order.placed_by_id is None or order.quote_id is not None:
        return  # the house placed it itself, or is told of the quote that was accepted
    tell_ordered(order, by=acting_user)


def require_may_order_for(user: User, company: Company) -> None:
    """Reps and office order for anybody, a customer's person who may order for its own company."""
    require_role(user, Role.CUSTOMER, Role.REP, Role.OFFICE)
    if _is_house(user):
        return
    if user.company_id != company.pk:
        raise NotAllowed(gettext("You can order for your own company only."))
    if not user.may_order:
        raise NotAllowed(
            gettext("You may look and not order for {company}; ask whoever orders there.").format(
                company=company
            )
        )


def _is_house(user: User) -> bool:
    return has_role(user, Role.REP, Role.OFFICE)


def set_due_date(*, order: Order, acting_user: User, due_on: date, why: str = "") -> None:
    """Move the due date of an order that has not left the plant.

    A date before the order can be made and released needs ``why``, which stays with the order.
    """
    require_role(acting_user, *DATE_SETTERS)
    old = order.due_on
    if order.status in Order.ENDED:
        raise IllegalMove(
            gettext("{number} is {status}; its date is final.").format(
                number=order.number, status=order.get_status_display()
            )
        )
    if due_on < timezone.localdate():
        raise BadInput(
            gettext("The due date lies in the past."),
            fields={"due_on": gettext("Choose a later day.")},
        )
    if due_on == old:
        return
    earliest = read_due_dates(timezone.localdate()).of_orders.get(order.pk)
    dates = {"due_on": [old.isoformat(), due_on.isoformat()]}
    if earliest is not None and due_on < earliest:
        if not why.strip():
            raise BadInput(
                gettext("{number} cannot be made by then: earliest {earliest}.").format(
                    number=order.number, earliest=house().weekday(earliest)
                ),
                fields={"why": gettext("Say why an earlier date is promised.")},
            )
        dates["earliest"] = [earliest.isoformat()]
    with transaction.atomic():
        unchanged = Order.objects.filter(pk=order.pk, status=order.status, due_on=old)
        if unchanged.update(due_on=due_on) != 1:
            raise ChangedMeanwhile(
                gettext("Somebody else changed {number} meanwhile; look again.").format(
                    number=order.number
                )
            )
        order.due_on = due_on
        note(
            order,
            acting_user=acting_user,
            why=why or f"Due date moved from {old} to {due_on}.",
            data=dates,
        )


def mark_shipped(*, order: Order, acting_user: User, why: str = "") -> None:
    """The order left the plant or was collected.

    IllegalMove while a lot in it is on hold, or while a label of it does not stand approved or was
    made for another state than the order goes to by now.

    The same while it holds less than was promised and nobody's agreement is written down.

    Packages without a serial cannot be traced: while some are not filled, BadInput unless
    ``why`` says why the order leaves all the same.
    """
    require_role(acting_user, *SHIPPERS)
    require_move(order, Order.Status.SHIPPED)
    with transaction.atomic():
        # Whoever changes a label by hand waits here, or is waited for.
        Order.objects.select_for_update(of=("self",)).get(pk=order.pk)
        require_no_hold(Batch.objects.live().of_order(order))
        if told := not_agreed_words(not_agreed(order)):
            raise IllegalMove(told)
        approvals = require_approved_labels(order)
        if elsewhere := labelled_elsewhere(order):
            raise IllegalMove(elsewhere)
        missing = unfilled_words(order)
        if missing and not why.strip():
            raise BadInput(missing, fields={"why": gettext("Say why it leaves all the same.")})
        # Written down as it is today: an address corrected later moves no past shipment.
        to = {
            "state": order.ship_to.state,
            "county": order.ship_to.county,
            "label_approvals": sorted({approval.pk for approval in approvals}),
        }
        told = f"{missing} {why.strip()}" if missing else ""
        move(order, Order.Status.SHIPPED, acting_user=acting_user, why=told, data=to)
        mail_order(
            order,
            "orders/ordering/mail/order_shipped.txt",
            gettext_noop("Order {number} is on its way"),
            acting_user=acting_user,
        )
        tell_shipped(order, by=acting_user)


def cancel_order(*, order: Order, acting_user: User, why: str) -> None:
    """Cancel an order nothing has been made for yet; its planned batches go with it.

    Other orders that shared a load with it are told, and are to be planned again.
    """
    require_role(acting_user, *CANCELLERS)
    require_move(order, Order.Status.CANCELLED)
    if not why.strip():
        raise BadInput(
            gettext("Say why the order is cancelled."), fields={"why": gettext("Give a reason.")}
        )
    with transaction.atomic():
        batches = list(Batch.objects.live().of_order(order).order_by("pk"))
        others = [each for each in locked_orders(*batches) if each != order]
        move(order, Order.Status.CANCELLED, acting_user=acting_user, why=why)
        told = f"Order {order.number} was cancelled."
        for batch in batches:
            if batch.status != Batch.Status.PLANNED:
                raise IllegalMove(
                    gettext(
                        "Batch {number} is already {status}; the plant decides what becomes of it "
                        "before the order can be cancelled."
                    ).format(number=batch.number, status=batch.get_status_display())
                )
            move(batch, Batch.Status.CANCELLED, acting_user=acting_user, why=told)
            sharing = batch.parts.values_list("order_line__order", flat=True)
            reopen_without_batches(
                [each for each in others if each.pk in sharing], batch, acting_user
            )
        mail_order(
            order,
            "orders/ordering/mail/order_cancelled.txt",
            gettext_noop("Order {number} is cancelled"),
            acting_user=acting_user,
            why=why,
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
        subject = gettext_noop("Order {number} is cancelled")
        template = "orders/ordering/mail/order_cancelled.txt"
        mail_order(order, template, subject, acting_user=acting_user, why=told)
        tell_cancelled_by_customer(order, told, by=acting_user)


def ask_about(*, order: Order, acting_user: User, text: str) -> None:
    """The customer wants something else of an order; it stands with the rep until answered."""
    require_role(acting_user, Role.CUSTOMER)
    require_may_order_for(acting_user, order.company)
    _require_text(text)
    if order.status in Order.ENDED:
        raise IllegalMove(why_fixed(order))
    with transaction.atomic():
        note(order, acting_user=acting_user, why=text.strip(), data={ASKED: True})
        tell_asked(order, text.strip(), by=acting_user)


def answer_about(*, order: Order, acting_user: User, text: str) -> None:
    """The house answers; the customer reads it on the order and in a mail."""
    require_role(acting_user, *ANSWERERS)
    _require_text(text)
    with transaction.atomic():
        note(order, acting_user=acting_user, why=text.strip(), data={ANSWERED: True})
        mail_order(
            order,
            "orders/ordering/mail/order_answered.txt",
            gettext_noop("Your question about {number}"),
            acting_user=acting_user,
            why=text.strip(),
        )


def _require_text(text: str) -> None:
    if not text.strip():
        message = gettext("Write what it is about.")
        raise BadInput(message, fields={"why": message})
