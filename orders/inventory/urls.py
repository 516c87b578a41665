"""Page routes: stock levels and lots."""

from django.urls import URLPattern, path

from orders.inventory import lot_views as stock_lots

urlpatterns: list[URLPattern] = [
    path("stock-levels/", stock_lots.stock_levels_page, name="stock_levels"),
    path("lots/", stock_lots.lot_list, name="lot_list"),
    path("lots/receive/", stock_lots.lot_receive, name="lot_receive"),
    # /lots/<code>/
    path("lots/<str:code>/", stock_lots.lot_detail, name="lot_detail"),
    path("lots/<str:code>/count/", stock_lots.lot_count, name="lot_count"),
    path("lots/<str:code>/adjust/", stock_lots.lot_adjust, name="lot_adjust"),
    path("lots/<str:code>/transfer/", stock_lots.lot_transfer, name="lot_transfer"),
    path("lots/<str:code>/hold/", stock_lots.lot_hold, name="lot_hold"),
    path("lots/<str:code>/release/", stock_lots.lot_release, name="lot_release"),
    path("lots/<str:code>/label.pdf", stock_lots.lot_label_pdf, name="lot_label_pdf"),
    path("lots/<str:code>/extend/", stock_lots.lot_extend, name="lot_extend"),
    path("lots/<str:code>/certificate/", stock_lots.lot_certificate, name="lot_certificate"),
    path("lots/<str:code>/file/", stock_lots.lot_file, name="lot_file"),
]
