"""What the plant has: packages, trucks, tanks. Issued quotes keep their figures."""

from typing import Any

from django.contrib import admin
from django.http import HttpRequest
from django.utils.translation import gettext_lazy as _

from blendshop.back_office import HistoryAdmin, PlainAdmin
from orders.models import Package, Tank, Truck


class KeptAdmin(HistoryAdmin):
    """With its history; taken out of use by its own switch instead of deleted."""

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False


@admin.register(Package)
class PackageAdmin(KeptAdmin):
    list_display = ("code", "name", "kind", "fill_gal", "price", "deposit", "active")
    list_filter = ("kind", "active")
    search_fields = ("code", "name")
    search_help_text = _("Code or name")


@admin.register(Truck)
class TruckAdmin(KeptAdmin):
    list_display = ("name", "kind", "empty_lb", "gross_limit_lb", "capacity_gal", "in_use")


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
