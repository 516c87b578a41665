"""Page routes: seasons with acres."""

from django.urls import URLPattern, path

from orders.season import list_views, reserve_views, views

urlpatterns: list[URLPattern] = [
    path("seasons/", list_views.season_list, name="season_list"),
    path("seasons/customers/<int:pk>/", list_views.season_customer, name="season_customer"),
    path(
        "seasons/customers/<int:pk>/properties/new/",
        list_views.season_property_new,
        name="season_property_new",
    ),
    path("seasons/properties/<int:pk>/", list_views.season_property, name="season_property"),
    path("seasons/customers/<int:pk>/new/", views.season_program_new, name="season_program_new"),
    path("seasons/<int:pk>/", views.season_program, name="season_program"),
    path("seasons/<int:pk>/edit/", views.season_program_edit, name="season_program_edit"),
    path("seasons/<int:pk>/copy/", views.season_copy, name="season_copy"),
    path("seasons/<int:pk>/season.pdf", views.season_pdf, name="season_pdf"),
    path("seasons/<int:pk>/rounds/", views.season_rows, name="season_rows"),
    path("seasons/<int:pk>/rates/", views.season_rates, name="season_rates"),
    path("seasons/<int:pk>/rounds/new/", views.season_round_new, name="season_round_new"),
    path(
        "seasons/<int:pk>/blend-options/", views.season_blend_options, name="season_blend_options"
    ),
    path("seasons/rounds/<int:pk>/", views.season_round, name="season_round"),
    path("seasons/rounds/<int:pk>/drop/", views.season_round_drop, name="season_round_drop"),
    path("seasons/<int:pk>/reserve/", reserve_views.season_reserve, name="season_reserve"),
    path("seasons/<int:pk>/give-back/", reserve_views.season_give_back, name="season_give_back"),
    path("seasons/rounds/<int:pk>/release/", reserve_views.season_release, name="season_release"),
]
