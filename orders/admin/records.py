"""Quotes, orders, batches and papers, to look at: only the pages' actions write them."""

from typing import Any

from django.contrib import admin
from django.http import HttpRequest

from orders.models import Batch, Order, Paper, Quote


class LookOnlyAdmin(admin.ModelAdmin):  # type: ignore[type-arg]
    def has_add_permission(self, request: HttpRequest) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False


@admin.register(Quote)
class QuoteAdmin(LookOnlyAdmin):
    list_display = ("number", "company", "status", "total", "valid_until")
    list_filter = ("status",)
    list_select_related = ("company",)
    search_fields = ("number", "company__name")


@admin.register(Order)
class OrderAdmin(LookOnlyAdmin):
    list_display = ("number", "company", "status", "due_on", "total")
    list_filter = ("status",)
    list_select_related = ("company",)
    search_fields = ("number", "company__name")


@admin.register(Batch)
class BatchAdmin(LookOnlyAdmin):
    list_display = ("number", "status", "tank", "target_gal", "created_at")
    list_filter = ("status", "tank")
    list_select_related = ("tank",)
    search_fields = ("number",)


@admin.register(Paper)
class PaperAdmin(LookOnlyAdmin):
    list_display = ("kind", "quote", "batch", "issued_by", "issued_at", "sha256")
    list_filter = ("kind",)
    list_select_related = ("quote", "batch", "issued_by")
    exclude = ("pdf", "snapshot")
