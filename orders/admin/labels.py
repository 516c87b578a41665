"""Approvals of labels, to look at: a formulator approves and withdraws on the label's page."""

from django.contrib import admin
from django.utils.translation import gettext_lazy as _

from blendshop.back_office import LookOnlyAdmin
from orders.models import LabelApproval, LabelApprovalWithdrawn


@admin.register(LabelApproval)
class LabelApprovalAdmin(LookOnlyAdmin):
    list_display = ("revision", "state", "package", "in_use_before", "who", "at")
    list_filter = ("state", "in_use_before")
    list_select_related = ("revision__blend", "package")
    search_fields = ("revision__blend__name", "part__batch__number")
    search_help_text = _("Blend or batch")


@admin.register(LabelApprovalWithdrawn)
class LabelApprovalWithdrawnAdmin(LookOnlyAdmin):
    list_display = ("approval", "why", "who", "at")
    list_select_related = ("approval__revision__blend", "approval__package")
