"""Page routes: what to buy, the purchase list, terms of suppliers."""

from django.urls import path

from orders.buying import terms_views, views

urlpatterns = [
    path("buying/", views.buying_page, name="buying"),
    path("buying/list/", views.purchase_list_page, name="purchase_list"),
    path("buying/purchase-list.csv", views.purchase_list_csv, name="purchase_list_csv"),
    path("buying/purchase-list.pdf", views.purchase_list_pdf, name="purchase_list_pdf"),
    path("buying/suppliers/", terms_views.supplier_terms, name="supplier_terms"),
    path("buying/stocks/<str:code>/", views.buying_stock, name="buying_stock"),
]
