"""Orders: what was accepted, by when it is due, how far it is."""

from collections.abc import Mapping
from datetime import date
from typing import Any, ClassVar

from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from blendshop.accounts.models import Company, User
from blendshop.roles import STAFF, Role, has_role
from blendshop.snapshot import StoredIn
from formulas.models import BlendRevision
from orders.frozen.line_price import LinePrice
from orders.models.events import Event
from orders.models.people import ShipTo
from orders.models.policy import Package
from orders.models.quote import Quote
from orders.pricing import StepCode


class OrderQuerySet(models.QuerySet["Order"]):
    def visible_to(self, user: User) -> "OrderQuerySet":
        """All staff see orders (plant without prices); a customer its company's."""
        if has_role(user, *STAFF):
            return self
        if not (has_role(user, Role.CUSTOMER) and user.company_id):
            return self.none()
        return self.filter(company=user.company_id)

    def open(self) -> "OrderQuerySet":
        return self.filter(status__in=[Order.Status.OPEN, Order.Status.PLANNED, Order.Status.MADE])


class Order(models.Model):
    """An accepted quote or a reorder; what waits to be released is no order of the plant yet."""

    class Status(models.TextChoices):
        REQUESTED = "requested", _("requested")
        OPEN = "open", _("open")
        PLANNED = "planned", _("batches planned")
        MADE = "made", _("made")
        SHIPPED = "shipped", _("shipped")
        CANCELLED = "cancelled", _("cancelled")
        DECLINED = "declined", _("declined")

    #: Each move has one action in orders/actions/orders.py or batches.py.
    MOVES: ClassVar[Mapping[str, set[str]]] = {
        Status.REQUESTED: {Status.OPEN, Status.DECLINED, Status.CANCELLED},
        # Back to a request: its customer changed it to more than may be ordered without a look.
        Status.OPEN: {Status.PLANNED, Status.CANCELLED, Status.REQUESTED},
        Status.PLANNED: {Status.MADE, Status.OPEN, Status.CANCELLED},
        Status.MADE: {Status.SHIPPED},
        Status.SHIPPED: set(),
        Status.CANCELLED: set(),
        Status.DECLINED: set(),
    }
    #: Nothing is done with these any more.
    ENDED: ClassVar = (Status.SHIPPED, Status.CANCELLED, Status.DECLINED)

    number = models.CharField(max_length=20, unique=True)
    quote = models.OneToOneField(
        Quote, null=True, blank=True, on_delete=models.PROTECT, related_name="order"
    )
    company = models.ForeignKey(Company, on_delete=models.PROTECT, related_name="orders")
    ship_to = models.ForeignKey(ShipTo, on_delete=models.PROTECT, related_name="+")
    status = models.CharField(max_length=20, choices=Status, default=Status.OPEN)
    due_on = models.DateField()
    customer_reference = models.CharField(max_length=80, blank=True)
    wanted_on = models.DateField(
        null=True, blank=True, help_text="The day the customer asked for; it may not be kept."
    )
    note = models.CharField(max_length=400, blank=True, help_text="The customer's, for the plant.")
    placed_by = models.ForeignKey(
        User,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="+",
        help_text="The customer's person who ordered it without the plant; none otherwise.",
    )
    #: Why it is, or was, a request: sentences for the customer and the house.
    held_because: Any = models.JSONField(default=list, blank=True)
    created_at = models.DateTimeField(auto_now_add=True)
    once_key = models.CharField(
        max_length=64,
        null=True,
        blank=True,
        unique=True,
        editable=False,
        help_text="A reorder confirmed twice carries the same key and is made once.",
    )
    total = models.DecimalField(max_digits=12, decimal_places=2)
    deposit_total = models.DecimalField(max_digits=12, decimal_places=2, default=0)

    objects = OrderQuerySet.as_manager()

    class Meta:
        ordering = ("-created_at", "-pk")
        indexes: ClassVar = [
            models.Index(fields=["due_on", "id"], name="order_by_due_date"),
            models.Index(fields=["status", "due_on", "id"], name="order_by_status_and_due_date"),
            models.Index(fields=["customer_reference"], name="order_by_customer_s_number"),
        ]
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(
                    status__in=[
                        "requested",
                        "open",
                        "planned",
                        "made",
                        "shipped",
                        "cancelled",
                        "declined",
                    ]
                ),
                name="order_status_is_known",
                violation_error_message="This is not a state of an order.",
            )
        ]

    def __str__(self) -> str:
        return self.number

    @property
    def at_costs_of(self) -> date:
        """The day whose costs its price is of: the quote's, or of a reorder that it was placed."""
        of_quote = None if self.quote is None else self.quote.at_costs_of
        return of_quote or timezone.localdate(self.created_at)


class OrderLine(models.Model):
    """One blend in a package and quantity; recipe and price as they were accepted.

    ``material`` and ``earned`` repeat two figures of ``price_breakdown``, dollars: a database adds
    up columns of all years, and no list of steps in JSON.
    """

    order = models.ForeignKey(Order, on_delete=models.CASCADE, related_name="lines")
    position = models.PositiveSmallIntegerField()
    revision = models.ForeignKey(BlendRevision, on_delete=models.PROTECT, related_name="+")
    package = models.ForeignKey(Package, on_delete=models.PROTECT, related_name="+")
    quantity = models.PositiveIntegerField()
    n_rate_lb_per_1000sqft = models.FloatField(null=True, blank=True)
    volume_gal = models.FloatField()
    mass_lb = models.FloatField()
    price: "models.JSONField[Mapping[str, Any], object]" = models.JSONField(default=dict)
    price_per_gal = models.DecimalField(max_digits=12, decimal_places=4)
    line_total = models.DecimalField(max_digits=12, decimal_places=2)
    deposit = models.DecimalField(max_digits=12, decimal_places=2, default=0)
    material = models.DecimalField(
        max_digits=12,
        decimal_places=2,
        default=0,
        editable=False,
        help_text="What its price counts for material.",
    )
    earned = models.DecimalField(
        max_digits=12,
        decimal_places=2,
        default=0,
        editable=False,
        help_text="The margin its price leaves, after discount and freight below its tariff.",
    )

    price_breakdown = StoredIn(LinePrice, "price")

    class Meta:
        ordering = ("order_id", "position")
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["order", "position"],
                name="order_line_position_is_unique",
                violation_error_message="Two lines stand in one place.",
            ),
            models.CheckConstraint(
                condition=Q(quantity__gt=0),
                name="order_line_quantity_is_positive",
                violation_error_message="Order at least one.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.order.number}/{self.position}"

    def keep_money(self) -> None:
        """Set ``material`` and ``earned`` from the price; whoever writes a line asks for it."""
        price = self.price_breakdown
        self.material, self.earned = price.amount(StepCode.MATERIAL), price.earned


class OrderEvent(Event):
    order = models.ForeignKey(Order, on_delete=models.CASCADE, related_name="events")

    class Meta(Event.Meta):
        # A report of a month reads what was shipped in it, not the shipments of all years.
        indexes: ClassVar = [
            *Event.Meta.indexes,
            models.Index(
                fields=["at", "id"],
                condition=Q(to_status="shipped"),
                name="order_event_of_shipping",
            ),
        ]

    @property
    def county_shipped_to(self) -> str:
        """As it was when the order was shipped; the place's own for events of before."""
        if "county" not in self.data:
            return self.order.ship_to.county
        county: str = self.data["county"]
        return county
