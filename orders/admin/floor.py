"""Lots, their movements and what was done with a batch, to look at: written once, on the floor."""

from django.contrib import admin
from django.utils.translation import gettext_lazy as _

from blendshop.back_office import LookOnlyAdmin
from orders.models import (
    BatchPart,
    Charge,
    LoweredPromise,
    PackageSerial,
    QualityReading,
    StockLot,
    StockMovement,
    TankEntry,
    TargetChange,
)


@admin.register(StockLot)
class StockLotAdmin(LookOnlyAdmin):
    list_display = ("code", "stock", "supplier", "supplier_lot", "on_hand_lb", "state")
    list_filter = ("state", "stock")
    list_select_related = ("stock",)
    search_fields = ("code", "supplier", "supplier_lot", "stock__code", "stock__name")
    search_help_text = _("Lot, supplier or stock")
    date_hierarchy = "received_on"


@admin.register(StockMovement)
class StockMovementAdmin(LookOnlyAdmin):
    list_display = ("lot", "kind", "mass_lb", "batch", "why", "who", "at")
    list_filter = ("kind",)
    list_select_related = ("lot", "batch")
    search_fields = ("lot__code", "lot__supplier_lot", "batch__number")
    search_help_text = _("Lot, supplier's lot or batch")
    show_full_result_count = False


@admin.register(BatchPart)
class BatchPartAdmin(LookOnlyAdmin):
    list_display = ("batch", "position", "order_line", "quantity")
    list_select_related = ("batch", "order_line__order")
    search_fields = ("batch__number", "order_line__order__number")
    search_help_text = _("Batch or order")


@admin.register(Charge)
class ChargeAdmin(LookOnlyAdmin):
    list_display = ("batch", "step", "stock", "lot", "mass_lb", "who", "at")
    list_select_related = ("batch", "stock", "lot")
    search_fields = ("batch__number", "lot__code", "stock__code")
    search_help_text = _("Batch, lot or stock")


@admin.register(TargetChange)
class TargetChangeAdmin(LookOnlyAdmin):
    list_display = ("batch", "step", "was_lb", "weight_lb", "why", "who", "at")
    list_select_related = ("batch",)
    search_fields = ("batch__number",)
    search_help_text = _("Batch")


@admin.register(LoweredPromise)
class LoweredPromiseAdmin(LookOnlyAdmin):
    list_display = ("batch", "grade", "agreed_with", "why", "who", "at")
    list_select_related = ("batch",)
    search_fields = ("batch__number",)
    search_help_text = _("Batch")


@admin.register(QualityReading)
class QualityReadingAdmin(LookOnlyAdmin):
    list_display = ("batch", "density_at_reference", "reference_f", "ph", "appearance", "who", "at")
    list_select_related = ("batch",)
    search_fields = ("batch__number",)
    search_help_text = _("Batch")


@admin.register(PackageSerial)
class PackageSerialAdmin(LookOnlyAdmin):
    list_display = ("serial", "part", "net_lb", "who", "at")
    list_select_related = ("part__batch",)
    search_fields = ("serial", "part__batch__number")
    search_help_text = _("Serial number or batch")


@admin.register(TankEntry)
class TankEntryAdmin(LookOnlyAdmin):
    list_display = ("tank", "kind", "batch", "note", "who", "at")
    list_filter = ("tank", "kind")
    list_select_related = ("tank", "batch")
    search_fields = ("tank__name", "batch__number")
    search_help_text = _("Tank or batch")
