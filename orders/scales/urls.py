"""Pages of the scales."""

from django.urls import path

from orders.scales import views

urlpatterns = [
    path("scales/", views.scale_list, name="scale_list"),
    path("scales/<int:pk>/<slug:scale>/", views.scale_check, name="scale_check"),
]
