"""Routes of formulation and spray sheets."""

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
