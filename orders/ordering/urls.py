"""Page routes: the order board and one order."""

from django.urls import URLPattern, path

from orders.ordering import views

urlpatterns: list[URLPattern] = [
    path("orders/", views.order_board, name="order_board"),
    path("orders/<str:number>/", views.order_detail, name="order_detail"),
    path("orders/<str:number>/plan/", views.order_plan, name="order_plan"),
    path("orders/<str:number>/ship/", views.order_ship, name="order_ship"),
    path("orders/<str:number>/cancel/", views.order_cancel, name="order_cancel"),
    path("orders/<str:number>/cancel-own/", views.order_cancel_own, name="order_cancel_own"),
    path("orders/<str:number>/ask/", views.order_ask, name="order_ask"),
    path("orders/<str:number>/answer/", views.order_answer, name="order_answer"),
    path(
        "orders/<str:number>/mails/<int:pk>/resend/",
        views.order_mail_resend,
        name="order_mail_resend",
    ),
    path("orders/<str:number>/due/", views.order_due, name="order_due"),
]
