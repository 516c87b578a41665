"""Page routes: control charts of what comes in and is weighed."""

from django.urls import URLPattern, path

from orders.drift import views

urlpatterns: list[URLPattern] = [
    path("drift/", views.drift_list, name="drift_list"),
    path("drift/<str:code>/", views.drift_stock, name="drift_stock"),
    path("drift/<str:code>/adopt/", views.drift_adopt, name="drift_adopt"),
]
