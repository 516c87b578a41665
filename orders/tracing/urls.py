"""Page routes: where a lot went and where a package came from."""

from django.urls import URLPattern, path

from orders.tracing import views

urlpatterns: list[URLPattern] = [
    path("trace/", views.trace_page, name="trace"),
    path("trace.csv", views.trace_csv, name="trace_csv"),
    path("trace.json", views.trace_json, name="trace_json"),
]
