"""Routes of formulation and spray sheets."""

from django.urls import path

from formulas import api

urlpatterns = [
    path("formulations/", api.FormulationView.as_view(), name="api_formulations"),
    path("spray-sheets/", api.SpraySheetView.as_view(), name="api_spray_sheets"),
]
