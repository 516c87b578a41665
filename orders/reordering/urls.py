"""Page routes: reorders."""

from django.urls import URLPattern, path

from orders.reordering import views

urlpatterns: list[URLPattern] = [
    path("orders/<str:number>/reorder/", views.reorder_order, name="reorder_order"),
    path("orders/<str:number>/reorder/price/", views.reorder_price, name="reorder_price"),
    path("orders/<str:number>/change/", views.order_change, name="order_change"),
    path("blends/<int:pk>/reorder/", views.reorder_blend, name="reorder_blend"),
]
