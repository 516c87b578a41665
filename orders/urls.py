"""Pages of every room of this app."""

from django.urls import include, path

urlpatterns = [
    path("", include(f"orders.{room}.urls"))
    for room in (
        "blend_page",
        "quoting",
        "ordering",
        "reordering",
        "questions",
        "safety_sheets",
        "requests",
        "repricing",
        "cost_change",
        "price_desk",
        "buying",
        "planning",
        "production",
        "papers",
        "labels",
        "inventory",
        "tracing",
        "tanks",
        "scales",
        "allocation",
        "recall",
        "compliance",
        "crew_sheet",
        "portal",
        "season",
        "shift",
        "first_steps",
        "searching",
        "changes",
        "year_figures",
        "drift",
    )
]
