"""Routes of the room's contracts, under ``/api/v1/``."""

from django.urls import URLPattern, path

from orders.planning.due_date_api import DueDateView

urlpatterns: list[URLPattern] = [
    path("due-dates/", DueDateView.as_view(), name="api_due_dates"),
]
