"""Page routes: notices, and how one is told."""

from django.urls import URLPattern, path

from blendshop.notices import views

urlpatterns: list[URLPattern] = [
    path("", views.notice_list, name="notice_list"),
    path("read/", views.notices_read, name="notices_read"),
    path("choices/", views.notice_choices, name="notice_choices"),
    path("<int:pk>/", views.notice_open, name="notice_open"),
]
