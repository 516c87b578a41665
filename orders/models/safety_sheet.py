"""Safety data sheets the plant puts in, of a base stock or of a blend; each version stays."""

from typing import ClassVar

from django.db import models
from django.db.models import Q

from blendshop.accounts.models import User
from blendshop.immutable import WrittenOnceModel, WrittenOnceQuerySet
from blendshop.roles import STAFF, Role, has_role
from formulas.models import BaseStock, Blend, RevisionLine
from orders.models.order import Order, OrderLine


class SafetySheetQuerySet(WrittenOnceQuerySet):
    def visible_to(self, user: User) -> "SafetySheetQuerySet":
        """All staff; a customer those of blends its company has ordered.

        Those of the stocks in them only where the company reads recipes: a sheet of a stock says
        that it is in the blend.
        """
        if has_role(user, *STAFF):
            return self
        if not (has_role(user, Role.CUSTOMER) and user.company_id):
            return self.none()
        never = (Order.Status.REQUESTED, Order.Status.CANCELLED, Order.Status.DECLINED)
        bought = OrderLine.objects.filter(order__company=user.company_id)
        bought = bought.exclude(order__status__in=never)
        allowed = Q(blend__in=bought.values("revision__blend"))
        if user.sees_recipe:
            lines = RevisionLine.objects.filter(revision__in=bought.values("revision"))
            allowed |= Q(stock__in=lines.values("stock"))
        return self.filter(allowed)

    def newest(self) -> "SafetySheetQuerySet":
        """Of each stock and blend the last version."""
        of_same = Q(stock=models.OuterRef("stock")) | Q(blend=models.OuterRef("blend"))
        later = SafetySheet.objects.filter(of_same, version__gt=models.OuterRef("version"))
        last: SafetySheetQuerySet = self.filter(~models.Exists(later))
        return last


class SafetySheet(WrittenOnceModel):
    """One version of the sheet of a stock or a blend, as the file that was put in."""

    stock = models.ForeignKey(
        BaseStock, null=True, blank=True, on_delete=models.PROTECT, related_name="safety_sheets"
    )
    blend = models.ForeignKey(
        Blend, null=True, blank=True, on_delete=models.PROTECT, related_name="safety_sheets"
    )
    version = models.PositiveSmallIntegerField()
    revised_on = models.DateField(help_text="The date on the sheet itself.")
    pdf = models.BinaryField()
    sha256 = models.CharField(max_length=64)
    uploaded_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    uploaded_at = models.DateTimeField(auto_now_add=True)

    objects: ClassVar = SafetySheetQuerySet.as_manager()

    class Meta:
        ordering = ("-pk",)
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(stock__isnull=False, blend__isnull=True)
                | Q(stock__isnull=True, blend__isnull=False),
                name="safety_sheet_is_of_one_thing",
                violation_error_message="A sheet is of a stock or of a blend.",
            ),
            models.UniqueConstraint(
                fields=["stock", "version"],
                name="safety_sheet_of_stock_by_version",
                violation_error_message="The stock has a sheet of this version.",
            ),
            models.UniqueConstraint(
                fields=["blend", "version"],
                name="safety_sheet_of_blend_by_version",
                violation_error_message="The blend has a sheet of this version.",
            ),
        ]

    def __str__(self) -> str:
        return f"SDS {self.stock.code if self.stock else self.blend}, version {self.version}"
