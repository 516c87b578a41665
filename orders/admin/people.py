"""The plant's own name block, and what it keeps about its customers."""

from typing import Any

from django.contrib import admin
from django.http import HttpRequest

from blendshop.back_office import HistoryAdmin, PlainAdmin
from orders.admin.policy import KeptAdmin
from orders.models import CustomerTerms, PlantProfile, ShipTo


@admin.register(PlantProfile)
class PlantProfileAdmin(KeptAdmin):
    """One row, printed at the head of every paper."""

    list_display = ("name", "address", "phone", "email")

    def has_add_permission(self, request: HttpRequest) -> bool:
        return super().has_add_permission(request) and not PlantProfile.objects.exists()


@admin.register(ShipTo)
class ShipToAdmin(PlainAdmin):
    list_display = ("label", "company", "city", "state", "zone", "active")
    list_filter = ("state", "zone", "active")
    list_select_related = ("company", "zone")
    search_fields = ("label", "city", "company__name")
    autocomplete_fields = ("company",)

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False


@admin.register(CustomerTerms)
class CustomerTermsAdmin(HistoryAdmin):
    list_display = ("company", "tier", "payment_terms")
    list_select_related = ("company", "tier")
    search_fields = ("company__name",)
    autocomplete_fields = ("company",)
