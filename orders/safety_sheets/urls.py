"""Page routes: safety data sheets."""

from django.urls import URLPattern, path

from orders.safety_sheets import views

urlpatterns: list[URLPattern] = [
    path("stocks/<str:code>/safety-sheets/", views.stock_sheets, name="stock_sheets"),
    path("blends/<int:pk>/safety-sheets/", views.blend_sheets, name="blend_sheets"),
    path("safety-sheets/<int:pk>/", views.safety_sheet, name="safety_sheet"),
]
