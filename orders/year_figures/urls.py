"""Page routes: figures of the year, on screen and as CSV."""

from django.urls import URLPattern, path

from orders.year_figures import views

urlpatterns: list[URLPattern] = [
    path("figures/", views.year_figures, name="year_figures"),
    path("figures.csv", views.year_figures_csv, name="year_figures_csv"),
]
