"""Page routes: tank planning."""

from django.urls import URLPattern, path

from orders.planning import views

urlpatterns: list[URLPattern] = [
    path("planning/", views.tank_planning, name="tank_planning"),
    path("planning/plan/", views.tank_planning_plan, name="tank_planning_plan"),
    path("planning/tanks/<int:pk>/", views.tank_planning_tank, name="tank_planning_tank"),
    path("planning/combine/", views.tank_planning_combine, name="tank_planning_combine"),
]
