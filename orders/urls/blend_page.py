"""Page routes: blend page."""

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
