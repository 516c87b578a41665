"""Page routes: recalls, their customers and letters."""

from django.urls import URLPattern, path

from orders.recall import views

_RECALL = "recalls/<str:number>/"
_CUSTOMER = f"{_RECALL}customers/<int:pk>/"

urlpatterns: list[URLPattern] = [
    path("recalls/", views.recall_list, name="recall_list"),
    path("recalls/open/", views.recall_open, name="recall_open"),
    path(_RECALL, views.recall_detail, name="recall_detail"),
    path(f"{_RECALL}hold/", views.recall_hold, name="recall_hold"),
    path(f"{_RECALL}words/", views.recall_words, name="recall_words"),
    path(f"{_RECALL}free/", views.recall_free, name="recall_free"),
    path(f"{_RECALL}close/", views.recall_close, name="recall_close"),
    path(_CUSTOMER, views.recall_customer, name="recall_customer"),
    path(f"{_CUSTOMER}letter.pdf", views.recall_letter_pdf, name="recall_letter_pdf"),
]
