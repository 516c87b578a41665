"""Pages of stocks and blends."""

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
