"""Quotes, orders, batches and papers, to look at: only the pages' actions write them."""

from django.contrib import admin

from blendshop.back_office import LookOnlyAdmin
from orders.models import Batch, Order, Paper, Quote


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
