"""Page routes: new costs, what they do, and what is done about it."""

from django.urls import path

from orders.cost_change import quote_views, views

urlpatterns = [
    path("new-costs/", views.cost_change_list, name="cost_change_list"),
    path("new-costs/new/", views.cost_change_new, name="cost_change_new"),
    path("new-costs/from-table/", views.cost_change_from_table, name="cost_change_from_table"),
    path("new-costs/<int:pk>/", views.cost_change, name="cost_change"),
    path("new-costs/<int:pk>/edit/", views.cost_change_edit, name="cost_change_edit"),
    path("new-costs/<int:pk>/work-out/", views.cost_change_work_out, name="cost_change_work_out"),
    path("new-costs/<int:pk>/in-force/", views.cost_change_in_force, name="cost_change_in_force"),
    path("new-costs/<int:pk>/<str:table>.csv", views.cost_change_csv, name="cost_change_csv"),
    path("new-costs/<int:pk>/quotes/", quote_views.cost_change_quotes, name="cost_change_quotes"),
    path(
        "new-costs/<int:pk>/done/<int:work>/",
        quote_views.cost_change_done,
        name="cost_change_done",
    ),
]
