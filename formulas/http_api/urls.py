"""Routes of the contracts."""

from django.urls import path

from formulas.http_api import label_views as label_api
from formulas.http_api import load_views as load_api
from formulas.http_api import views as api

urlpatterns = [
    path("formulations/", api.FormulationView.as_view(), name="api_formulations"),
    path("load-plans/", load_api.LoadPlanView.as_view(), name="api_load_plans"),
    path("spray-sheets/", api.SpraySheetView.as_view(), name="api_spray_sheets"),
    path("label-drafts/", label_api.LabelDraftView.as_view(), name="api_label_drafts"),
    path("assay-checks/", label_api.AssayCheckView.as_view(), name="api_assay_checks"),
]
