"""Pages of the blend page, quotes, orders, batches and papers; one file an area."""

from orders.allocation import urls as stock_plan
from orders.blend_page import urls as blend_page
from orders.inventory import urls as stock
from orders.labels import urls as labels
from orders.ordering import urls as orders
from orders.portal import urls as customers
from orders.production import urls as charging
from orders.quoting import urls as quotes

urlpatterns = [
    *blend_page.urlpatterns,
    *quotes.urlpatterns,
    *orders.urlpatterns,
    *labels.urlpatterns,
    *customers.urlpatterns,
    *stock.urlpatterns,
    *stock_plan.urlpatterns,
    *charging.urlpatterns,
]
