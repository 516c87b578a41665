"""Batches: one tank load each, with a plan that never changes once written."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, ClassVar, Final

from django.db import models
from django.db.models import BigIntegerField, OuterRef, Q, Subquery
from django.db.models.fields.json import KT
from django.db.models.functions import Cast
from django.utils.translation import gettext_lazy as _

from blendshop.accounts.models import User
from blendshop.immutable import WrittenOnceModel, WrittenOnceQuerySet
from blendshop.roles import STAFF, Role, has_role
from blendshop.snapshot import StoredIn
from orders.frozen.consignment import Consignment
from orders.frozen.load_plan import LoadPlan
from orders.models.events import Event
from orders.models.order import Order, OrderLine
from orders.models.policy import Tank

if TYPE_CHECKING:
    from orders.models.lowered_promise import LoweredPromise


#: What a long list knows of a plan without reading it.
_HEADS: Final[Mapping[str, Any]] = {
    "planned_product": KT("plan__product_name"),
    "planned_grade": KT("plan__grade"),
    "planned_revision": Cast(KT("plan__revision_id"), BigIntegerField()),
}


class BatchQuerySet(models.QuerySet["Batch"]):
    def visible_to(self, user: User) -> "BatchQuerySet":
        """Batches are the plant's; customers see the papers of their orders, not the batch."""
        return self if has_role(user, *STAFF) else self.none()

    def live(self) -> "BatchQuerySet":
        return self.exclude(status=Batch.Status.CANCELLED)

    def for_list(self) -> "BatchQuerySet":
        """With tank, parts and their orders."""
        return self.select_related("tank").prefetch_related(
            "parts__order_line__order__company", "lowered_promises"
        )

    def in_short(self) -> "BatchQuerySet":
        """With their tanks and without plans and parts, for who knows those already."""
        return self.select_related("tank").defer("plan").prefetch_related("lowered_promises")

    def for_long_list(self) -> "BatchQuerySet":
        """The same as ``for_list`` for very many: of their plans three figures, no prices."""
        lines = OrderLine.objects.select_related("order__company", "package").defer("price")
        parts = BatchPart.objects.prefetch_related(models.Prefetch("order_line", lines))
        return self.in_short().prefetch_related(models.Prefetch("parts", parts)).annotate(**_HEADS)

    def by_due_date(self) -> "BatchQuerySet":
        """The most urgent first; ``due_on`` is the earliest due date of a batch's orders."""
        parts = BatchPart.objects.filter(batch=OuterRef("pk"))
        due = parts.order_by("order_line__order__due_on").values("order_line__order__due_on")
        return self.annotate(due_on=Subquery(due[:1])).order_by("due_on", "pk")

    def of_order(self, order: Order) -> "BatchQuerySet":
        """Batches some part of which is for the order, each once."""
        return self.filter(parts__order_line__order=order).distinct()


class Batch(models.Model):
    """One tank load of one blend, for one order line or several.

    ``load_plan`` is frozen: scale-ready weights in charging order with running total, expected
    analysis, density and pH window, hazards and cautions of that minute. Who gets how much of
    it stands in the batch's parts. ``plan`` is its JSON, of a type that
    only the codec reads.
    """

    class Status(models.TextChoices):
        PLANNED = "planned", _("planned")
        CHARGING = "charging", _("being charged")
        MADE = "made", _("made")
        HELD = "held", _("held")
        RELEASED = "released", _("released")
        CANCELLED = "cancelled", _("cancelled")

    MOVES: ClassVar[Mapping[str, set[str]]] = {
        Status.PLANNED: {Status.CHARGING, Status.CANCELLED},
        Status.CHARGING: {Status.MADE, Status.CANCELLED},
        Status.MADE: {Status.CHARGING, Status.HELD, Status.RELEASED, Status.CANCELLED},
        Status.HELD: {Status.CHARGING, Status.RELEASED, Status.CANCELLED},
        Status.RELEASED: set(),
        Status.CANCELLED: set(),
    }

    number = models.CharField(max_length=20, unique=True)
    load_number = models.PositiveSmallIntegerField(help_text="This load of so many.")
    load_count = models.PositiveSmallIntegerField()
    tank = models.ForeignKey(Tank, on_delete=models.PROTECT, related_name="+")
    status = models.CharField(max_length=20, choices=Status, default=Status.PLANNED)
    target_gal = models.FloatField()
    target_lb = models.FloatField()
    plan: "models.JSONField[Mapping[str, Any], object]" = models.JSONField()
    created_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    created_at = models.DateTimeField(auto_now_add=True)

    load_plan = StoredIn(LoadPlan, "plan")

    #: What a long list knows of the plan; only on batches that were fetched ``for_long_list``.
    planned_product: str
    planned_grade: str
    planned_revision: int

    objects = BatchQuerySet.as_manager()

    class Meta:
        verbose_name_plural = "batches"
        ordering = ("-created_at", "-pk")
        indexes: ClassVar = [
            models.Index(fields=["-created_at", "-id"], name="batch_newest_first"),
            models.Index(fields=["status", "-created_at", "-id"], name="batch_by_status"),
        ]
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(target_gal__gt=0, target_lb__gt=0),
                name="batch_target_is_positive",
                violation_error_message="A batch has a size above zero.",
            ),
            models.CheckConstraint(
                condition=Q(
                    status__in=["planned", "charging", "made", "held", "released", "cancelled"]
                ),
                name="batch_status_is_known",
                violation_error_message="This is not a state of a batch.",
            ),
        ]

    def __str__(self) -> str:
        return self.number

    @property
    def lowered_promise(self) -> "LoweredPromise | None":
        """The newest promise the batch was lowered to, if it was."""
        return max(self.lowered_promises.all(), key=lambda row: row.pk, default=None)

    @property
    def grade(self) -> str:
        """What the batch is sold as: the plan's grade unless its promise was lowered."""
        lowered = self.lowered_promise
        if lowered is not None:
            return lowered.grade
        return self.planned_grade if self.is_in_long_list else self.load_plan.grade

    @property
    def product_name(self) -> str:
        """What the load is called; each part may have a name of its own."""
        return self.planned_product if self.is_in_long_list else self.load_plan.product_name

    @property
    def is_in_long_list(self) -> bool:
        return "planned_grade" in self.__dict__


class BatchPartQuerySet(WrittenOnceQuerySet):
    def visible_to(self, user: User) -> "BatchPartQuerySet":
        """All staff see every part; a customer the papers of its own, by their orders."""
        if has_role(user, *STAFF):
            return self
        if has_role(user, Role.CUSTOMER) and user.company_id:
            return self.filter(order_line__order__company=user.company_id)
        return self.none()

    def live(self) -> "BatchPartQuerySet":
        return self.exclude(batch__status=Batch.Status.CANCELLED)

    def with_label(self) -> "BatchPartQuerySet":
        """With what a label is drafted from."""
        return self.select_related(
            "batch__tank", "order_line__order__company", "order_line__revision__blend"
        ).prefetch_related("batch__lowered_promises", "label_changes")


class BatchPart(WrittenOnceModel):
    """What one order line has of a tank load; written once, with the batch's plan.

    ``consignment`` is frozen: customer, ship-to, order number, package and gallons of that
    minute, which labels and certificates are drawn from. ``delivery`` is its JSON.
    """

    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="parts")
    position = models.PositiveSmallIntegerField()
    order_line = models.ForeignKey(OrderLine, on_delete=models.PROTECT, related_name="parts")
    quantity = models.PositiveIntegerField(
        help_text="Packages this part fills; for bulk whole gallons."
    )
    delivery: "models.JSONField[Mapping[str, Any], object]" = models.JSONField()

    consignment = StoredIn(Consignment, "delivery")

    objects: ClassVar = BatchPartQuerySet.as_manager()

    class Meta:
        ordering = ("batch_id", "position")
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["batch", "position"],
                name="batch_part_position_is_unique",
                violation_error_message="Two parts of the batch stand in one place.",
            ),
            models.UniqueConstraint(
                fields=["batch", "order_line"],
                name="batch_part_is_one_of_its_order_line",
                violation_error_message="The order line has a part of this batch already.",
            ),
            models.CheckConstraint(
                condition=Q(quantity__gt=0, position__gt=0),
                name="batch_part_holds_something",
                violation_error_message="A part of a batch fills at least one package.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.batch.number}, part {self.position}"

    @property
    def product_name(self) -> str:
        """What the customer ordered; papers of the part say so, whatever the load is called."""
        return self.consignment.product_name or self.batch.load_plan.product_name

    @property
    def is_bulk(self) -> bool:
        return self.consignment.package.is_bulk

    @property
    def package_count(self) -> int:
        """Packages to fill; bulk goes as one."""
        return 1 if self.is_bulk else self.quantity


class BatchEvent(Event):
    batch = models.ForeignKey(Batch, on_delete=models.CASCADE, related_name="events")
