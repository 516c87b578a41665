"""The plant's own name block, and what it keeps about its customers."""

from typing import Any

from django.contrib import admin
from django.http import HttpRequest
from django.utils.translation import gettext_lazy as _

from blendshop.back_office import HistoryAdmin, PlainAdmin
from orders.admin.policy import KeptAdmin
from orders.models import ClosedDay, CustomerTerms, PlantProfile, ShipTo
from orders.records.forms import WeekdaysField


@admin.register(PlantProfile)
class PlantProfileAdmin(KeptAdmin):
    """One row: the head of every paper, and the time the plant has to make what is ordered."""

    list_display = ("name", "address", "phone", "email")

    def formfield_for_dbfield(self, db_field: Any, request: HttpRequest, **kwargs: Any) -> Any:
        if db_field.name == "working_weekdays":
            return WeekdaysField(
                label=_("Working days of the week"),
                initial=db_field.default,
                help_text=_("On which loads are made. Holidays stand under Closed days."),
            )
        return super().formfield_for_dbfield(db_field, request, **kwargs)

    def has_add_permission(self, request: HttpRequest) -> bool:
        return super().has_add_permission(request) and not PlantProfile.objects.exists()


@admin.register(ClosedDay)
class ClosedDayAdmin(HistoryAdmin):
    """Holidays and other days without loads; every due date counts around them."""

    list_display = ("day", "why")
    date_hierarchy = "day"


@admin.register(ShipTo)
class ShipToAdmin(PlainAdmin):
    list_display = ("label", "company", "city", "state", "zone", "active")
    list_filter = ("state", "zone", "active")
    list_select_related = ("company", "zone")
    search_fields = ("label", "city", "company__name")
    search_help_text = _("Place, city or company")
    autocomplete_fields = ("company",)

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False


@admin.register(CustomerTerms)
class CustomerTermsAdmin(HistoryAdmin):
    list_display = ("company", "tier", "payment_terms")
    list_select_related = ("company", "tier")
    search_fields = ("company__name",)
    search_help_text = _("Company")
    autocomplete_fields = ("company",)
