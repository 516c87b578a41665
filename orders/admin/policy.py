"""The tables a price is made from. The office keeps them; issued quotes keep their figures."""

from typing import Any

from django.contrib import admin
from django.http import HttpRequest

from blendshop.back_office import HistoryAdmin, PlainAdmin
from orders.models import (
    FreightZone,
    Package,
    PricePolicy,
    PriceTier,
    QuantityBreak,
    StateFee,
    Tank,
    Truck,
)


class KeptAdmin(HistoryAdmin):
    """With its history; taken out of use by its own switch instead of deleted."""

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False


@admin.register(PricePolicy)
class PricePolicyAdmin(PlainAdmin):
    """A new policy is a new row with its first day; nothing is edited."""

    list_display = (
        "effective_from",
        "shrink_pct",
        "batch_fee",
        "blend_fee_per_gal",
        "lab_fee_per_batch",
        "note",
    )

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False


@admin.register(PriceTier)
class PriceTierAdmin(KeptAdmin):
    list_display = ("name", "margin_pct", "floor_pct", "is_default")


@admin.register(QuantityBreak)
class QuantityBreakAdmin(PlainAdmin):
    list_display = ("above_gal", "margin_points_off")


@admin.register(Package)
class PackageAdmin(KeptAdmin):
    list_display = ("code", "name", "kind", "fill_gal", "price", "deposit", "active")
    list_filter = ("kind", "active")
    search_fields = ("code", "name")


@admin.register(FreightZone)
class FreightZoneAdmin(KeptAdmin):
    list_display = ("name", "per_load", "per_package", "per_gal", "minimum", "pick_up")


@admin.register(Truck)
class TruckAdmin(KeptAdmin):
    list_display = ("name", "kind", "empty_lb", "gross_limit_lb", "capacity_gal", "in_use")


@admin.register(StateFee)
class StateFeeAdmin(KeptAdmin):
    list_display = ("state", "fee_per_ton", "citation", "mark", "active")
    search_fields = ("state", "citation")


@admin.register(Tank)
class TankAdmin(PlainAdmin):
    list_display = (
        "name",
        "capacity_gal",
        "smallest_gal",
        "scale_step_lb",
        "tolerance_pct",
        "fine_step_lb",
        "fine_max_lb",
        "loads_a_day",
        "scale_class",
        "active",
    )

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False
