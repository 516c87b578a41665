"""Pages of the blend page, quotes, orders, batches and papers; one file an area."""

from orders.urls import blend_page, customers, labels, orders, quotes

urlpatterns = [
    *blend_page.urlpatterns,
    *quotes.urlpatterns,
    *orders.urlpatterns,
    *labels.urlpatterns,
    *customers.urlpatterns,
]
