"""Spreads of stocks and scale: office and formulators keep them."""

from typing import Any

from django.contrib import admin
from django.http import HttpRequest
from django.utils.translation import gettext_lazy as _

from blendshop.back_office import HistoryAdmin
from orders.models import PlantSpread, StockSpread


@admin.register(PlantSpread)
class PlantSpreadAdmin(HistoryAdmin):
    """One row; until it is saved the defaults hold, which have no source."""

    list_display = ("usual_rsd_pct", "scale_absolute_lb", "scale_relative_pct", "source")

    def has_add_permission(self, request: HttpRequest) -> bool:
        return super().has_add_permission(request) and not PlantSpread.objects.exists()

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False


@admin.register(StockSpread)
class StockSpreadAdmin(HistoryAdmin):
    """Without a row a stock scatters as the plant's usual one."""

    list_display = ("stock", "strength_rsd_pct", "total_n_rsd_pct", "source")
    list_select_related = ("stock",)
    search_fields = ("stock__code", "stock__name")
    search_help_text = _("Code or name of the stock")
