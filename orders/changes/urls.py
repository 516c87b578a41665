"""Page routes: the change log."""

from django.urls import URLPattern, path

from orders.changes import views

urlpatterns: list[URLPattern] = [
    path("changes/", views.change_log, name="change_log"),
    path("changes/<slug:source>/<int:pk>/", views.change_take_back, name="change_take_back"),
]
