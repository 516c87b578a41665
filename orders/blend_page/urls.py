"""Page routes: blend page."""

from django.urls import URLPattern, path

from orders.blend_page import views
from orders.blend_page.storage_views import blend_storage

urlpatterns: list[URLPattern] = [
    path("blend/", views.blend_page, name="blend_page"),
    path("blend/answer/", views.blend_answer, name="blend_answer"),
    path("blend/storage/", blend_storage, name="blend_storage"),
    path("blend/save/", views.blend_save, name="blend_save"),
]
