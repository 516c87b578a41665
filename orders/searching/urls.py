"""Page route: the search in the header of every page of the plant."""

from django.urls import URLPattern, path

from orders.searching import views

urlpatterns: list[URLPattern] = [path("search/", views.search_page, name="search")]
