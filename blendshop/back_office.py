"""Bases of back-office pages. Django's admin classes take their row's type for the checker only."""

from typing import TYPE_CHECKING, Any

from django.contrib import admin
from django.http import HttpRequest
from simple_history.admin import SimpleHistoryAdmin

if TYPE_CHECKING:
    PlainAdmin = admin.ModelAdmin[Any]
    RowInline = admin.TabularInline[Any, Any]
else:
    PlainAdmin = admin.ModelAdmin
    RowInline = admin.TabularInline


class HistoryAdmin(SimpleHistoryAdmin):  # type: ignore[misc] # simple_history has no types
    """Rows that may be edited, each with its history."""


class LookOnlyAdmin(PlainAdmin):
    """Rows that only the pages' actions write."""

    def has_add_permission(self, request: HttpRequest) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False
