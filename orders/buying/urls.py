"""Page routes: what to buy, the purchase list, what was ordered, terms of suppliers."""

from django.urls import path

from orders.buying import purchase_views, terms_views, views

urlpatterns = [
    path("buying/", views.buying_page, name="buying"),
    path("buying/list/", views.purchase_list_page, name="purchase_list"),
    path("buying/purchase-list.csv", views.purchase_list_csv, name="purchase_list_csv"),
    path("buying/purchase-list.pdf", views.purchase_list_pdf, name="purchase_list_pdf"),
    path("buying/suppliers/", terms_views.supplier_terms, name="supplier_terms"),
    path("buying/purchases/<int:pk>/", purchase_views.purchase_change, name="purchase_change"),
    path(
        "buying/purchases/<int:pk>/call-off/",
        purchase_views.purchase_call_off,
        name="purchase_call_off",
    ),
    path("buying/stocks/<str:code>/ordered/", purchase_views.purchase_new, name="purchase_new"),
    path("buying/stocks/<str:code>/storage/", purchase_views.stock_storage, name="stock_storage"),
    path("buying/stocks/<str:code>/", views.buying_stock, name="buying_stock"),
]
