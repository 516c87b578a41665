"""/api/v1/ of both apps, and the description of it."""

from django.urls import include, path
from drf_spectacular.views import SpectacularAPIView, SpectacularSwaggerSplitView

urlpatterns = [
    path("", include("formulas.http_api.urls")),
    path("", include("orders.planning.api_urls")),
    path("schema/", SpectacularAPIView.as_view(), name="api_schema"),
    path("docs/", SpectacularSwaggerSplitView.as_view(url_name="api_schema"), name="api_docs"),
]
