"""Page routes: blend page."""

from django.urls import URLPattern, path

from orders.compliance.season_views import season_plan_page
from orders.views import blend_page as views
from orders.views.blend_storage import blend_storage

urlpatterns: list[URLPattern] = [
    path("blend/", views.blend_page, name="blend_page"),
    path("blend/answer/", views.blend_answer, name="blend_answer"),
    path("blend/storage/", blend_storage, name="blend_storage"),
    path("blend/save/", views.blend_save, name="blend_save"),
    path("season-plan/", season_plan_page, name="season_plan"),
]
