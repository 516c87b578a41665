"""Page routes: prices and terms, and the blends its preview may show."""

from django.urls import path

from orders.price_desk import views

urlpatterns = [
    path("prices/", views.price_desk, name="price_desk"),
    path("prices/table.csv", views.price_export, name="price_export"),
    path("prices/upload/", views.price_upload, name="price_upload"),
    path("prices/blends/", views.price_blend_options, name="price_blend_options"),
]
