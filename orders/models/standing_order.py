"""Standing orders: what a customer reserved for a season, released round by round.

No order of the plant yet: nothing is planned or priced from it before a round is released. Stock
plan and buying read the rounds that wait as what will be needed.
"""

from typing import Any, ClassVar, Final

from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import Q

from blendshop.accounts.models import Company, User
from blendshop.roles import STAFF, Role, has_role
from formulas.models import BlendRevision
from orders.models.events import Event
from orders.models.order import Order
from orders.models.people import ShipTo
from orders.models.policy import Package


class StandingOrderQuerySet(models.QuerySet["StandingOrder"]):
    def visible_to(self, user: User) -> "StandingOrderQuerySet":
        """All staff see them; a customer's people their company's."""
        if has_role(user, *STAFF):
            return self
        if has_role(user, Role.CUSTOMER) and user.company_id:
            return self.filter(company=user.company_id)
        return self.none()


class StandingOrder(models.Model):
    """Packages a customer reserved for the rounds of one year, to one place."""

    number = models.CharField(max_length=20, unique=True)
    company = models.ForeignKey(Company, on_delete=models.PROTECT, related_name="standing_orders")
    ship_to = models.ForeignKey(ShipTo, on_delete=models.PROTECT, related_name="+")
    year = models.PositiveSmallIntegerField()
    note = models.CharField(max_length=400, blank=True)
    made_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField(auto_now_add=True)
    ended_at = models.DateTimeField(
        null=True, blank=True, help_text="Rounds not released by then are not needed any more."
    )

    objects = StandingOrderQuerySet.as_manager()

    class Meta:
        ordering = ("-made_at", "-pk")

    def __str__(self) -> str:
        return self.number


#: An order that ended like this brings nothing: the round it was released as waits again.
UNSERVED: Final = (Order.Status.CANCELLED, Order.Status.DECLINED)
_WAITS: Final = Q(standing_order__ended_at__isnull=True) & (
    Q(order__isnull=True) | Q(order__status__in=UNSERVED)
)


class StandingRoundQuerySet(models.QuerySet["StandingRound"]):
    def waiting(self) -> "StandingRoundQuerySet":
        """To be released: not given up, and without an order or with one that came to nothing."""
        return self.filter(_WAITS)

    def wanted(self) -> "StandingRoundQuerySet":
        """What will take stock and is in no open order yet: what waits, and what is released as
        a request that nobody has looked at."""
        return self.filter(_WAITS | Q(order__status=Order.Status.REQUESTED))


class StandingRound(models.Model):
    """One round: a blend in packages, wanted on a day; with its order once it is released.

    An order that was cancelled or declined stays named until the round is released anew.
    """

    standing_order = models.ForeignKey(
        StandingOrder, on_delete=models.CASCADE, related_name="rounds"
    )
    position = models.PositiveSmallIntegerField()
    name = models.CharField(max_length=80)
    wanted_on = models.DateField()
    revision = models.ForeignKey(BlendRevision, on_delete=models.PROTECT, related_name="+")
    package = models.ForeignKey(Package, on_delete=models.PROTECT, related_name="+")
    quantity = models.PositiveIntegerField()
    mass_lb = models.FloatField(
        validators=[MinValueValidator(0)],
        help_text="What its packages weigh, as an order of them on the day it was reserved.",
    )
    n_rate_lb_per_1000sqft = models.FloatField(null=True, blank=True)
    price: Any = models.JSONField(
        null=True, blank=True, help_text="The line's price of the day it was reserved."
    )
    order = models.OneToOneField(
        Order, null=True, blank=True, on_delete=models.PROTECT, related_name="standing_round"
    )

    objects = StandingRoundQuerySet.as_manager()

    class Meta:
        ordering = ("standing_order_id", "position")
        indexes: ClassVar = [
            models.Index(fields=["wanted_on", "id"], name="standing_round_by_day"),
        ]
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["standing_order", "position"],
                name="standing_round_position_is_unique",
                violation_error_message="Two rounds stand in one place.",
            ),
            models.CheckConstraint(
                condition=Q(quantity__gt=0),
                name="standing_round_quantity_is_positive",
                violation_error_message="Reserve at least one.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.standing_order.number}/{self.position}"

    @property
    def released_as(self) -> Order | None:
        """The order that serves it; None while it waits."""
        return None if self.order is None or self.order.status in UNSERVED else self.order

    @property
    def came_to_nothing(self) -> Order | None:
        """The order that was cancelled or declined, after which it waits again."""
        return self.order if self.order is not None and self.released_as is None else None


class StandingOrderEvent(Event):
    standing_order = models.ForeignKey(
        StandingOrder, on_delete=models.CASCADE, related_name="events"
    )

    class Meta(Event.Meta):
        pass
