"""Page routes: orders, batches, issued papers, reorders."""

from django.urls import URLPattern, path

from orders.ordering import views as orders
from orders.papers import views as papers
from orders.production import batch_views as batches
from orders.reordering import views as reorders

urlpatterns: list[URLPattern] = [
    path("orders/", orders.order_board, name="order_board"),
    path("orders/<str:number>/", orders.order_detail, name="order_detail"),
    path("orders/<str:number>/plan/", orders.order_plan, name="order_plan"),
    path("orders/<str:number>/ship/", orders.order_ship, name="order_ship"),
    path("orders/<str:number>/cancel/", orders.order_cancel, name="order_cancel"),
    path("orders/<str:number>/due/", orders.order_due, name="order_due"),
    path("orders/<str:number>/reorder/", reorders.reorder_order, name="reorder_order"),
    path("blends/<int:pk>/reorder/", reorders.reorder_blend, name="reorder_blend"),
    path("batches/", batches.batch_list, name="batch_list"),
    path("batches/<str:number>/", batches.batch_detail, name="batch_detail"),
    path("batches/<str:number>/ticket.pdf", batches.batch_ticket_pdf, name="batch_ticket_pdf"),
    path("batches/<str:number>/made/", batches.batch_made, name="batch_made"),
    path("batches/<str:number>/release/", batches.batch_release, name="batch_release"),
    path("batches/<str:number>/cancel/", batches.batch_cancel, name="batch_cancel"),
    path("papers/<int:pk>.pdf", papers.paper, name="paper"),
]
