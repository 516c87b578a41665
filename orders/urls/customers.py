"""Page routes: customers."""

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
