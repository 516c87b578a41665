"""Papers of every kind, to look at: only the pages' actions issue them."""

from django.contrib import admin

from blendshop.back_office import LookOnlyAdmin
from orders.models import Paper


@admin.register(Paper)
class PaperAdmin(LookOnlyAdmin):
    list_display = ("kind", "quote", "batch", "issued_by", "issued_at", "sha256")
    list_filter = ("kind",)
    list_select_related = ("quote", "batch", "issued_by")
    exclude = ("pdf", "snapshot")
