"""Page routes: work under way."""

from django.urls import URLPattern, path

from blendshop.long_work import views

urlpatterns: list[URLPattern] = [
    path("jobs/", views.work_list, name="work_list"),
    path("jobs/<int:pk>/", views.work_detail, name="work_detail"),
    path("jobs/<int:pk>/progress/", views.work_progress, name="work_progress"),
    path("jobs/<int:pk>/call-off/", views.work_call_off, name="work_call_off"),
    path("jobs/<int:pk>/again/", views.work_again, name="work_again"),
    path("jobs/<int:pk>/download/", views.work_download, name="work_download"),
]
