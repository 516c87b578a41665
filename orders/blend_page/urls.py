"""Page routes: blend page."""

from django.urls import URLPattern, path

from orders.blend_page import option_views, tray_views, views
from orders.blend_page.storage_views import blend_storage

urlpatterns: list[URLPattern] = [
    path("blend/", views.blend_page, name="blend_page"),
    path("blend/answer/", views.blend_answer, name="blend_answer"),
    path("blend/storage/", blend_storage, name="blend_storage"),
    path("blend/save/", views.blend_save, name="blend_save"),
    path("blend/tray/", tray_views.blend_tray, name="blend_tray"),
    path("blend/tray/keep/", tray_views.blend_tray_keep, name="blend_tray_keep"),
    path("blend/tray/quote/", tray_views.blend_tray_quote, name="blend_tray_quote"),
    path("blend/tray/<int:pk>/drop/", tray_views.blend_tray_drop, name="blend_tray_drop"),
    path("blend/stocks/", option_views.blend_stock_options, name="blend_stock_options"),
    path("blend/customers/", option_views.blend_customer_options, name="blend_customer_options"),
    path("blend/ship-tos/", option_views.blend_ship_to_options, name="blend_ship_to_options"),
]
