"""Page routes: requests that wait."""

from django.urls import URLPattern, path

from orders.requests import views

urlpatterns: list[URLPattern] = [
    path("requests/", views.requests_waiting, name="requests_waiting"),
    path("requests/addresses/<int:pk>/", views.place_decide, name="place_decide"),
    path("requests/<str:number>/", views.request_decide, name="request_decide"),
]
