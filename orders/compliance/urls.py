"""Page routes: the season plan, the rules of a state, the tonnage report."""

from django.urls import URLPattern, path

from orders.compliance import season_views, state_rules_views, tonnage_views

urlpatterns: list[URLPattern] = [
    path("season-plan/", season_views.season_plan_page, name="season_plan"),
    path(
        "season-plan/ship-tos/", season_views.season_ship_to_options, name="season_ship_to_options"
    ),
    path("state-rules/", state_rules_views.state_rules_list, name="state_rules_list"),
    path("state-rules/<str:state>/", state_rules_views.state_rules, name="state_rules"),
    path("tonnage/", tonnage_views.tonnage, name="tonnage"),
    path("tonnage.csv", tonnage_views.tonnage_csv, name="tonnage_csv"),
    path("tonnage.pdf", tonnage_views.tonnage_pdf, name="tonnage_pdf"),
]
