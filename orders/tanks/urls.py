"""Page routes: tanks and their ledgers."""

from django.urls import URLPattern, path

from orders.tanks import views

urlpatterns: list[URLPattern] = [
    path("tanks/", views.tank_list, name="tank_list"),
    path("tanks/<int:pk>/", views.tank_detail, name="tank_detail"),
    path("tanks/<int:pk>/sign/", views.tank_sign, name="tank_sign"),
    path("tanks/<int:pk>/drain/", views.tank_drain, name="tank_drain"),
    path("tanks/<int:pk>/rinse/", views.tank_rinse, name="tank_rinse"),
]
