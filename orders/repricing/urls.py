"""Page routes: open quotes by what they still earn."""

from django.urls import path

from orders.repricing import views

urlpatterns = [
    path("open-quotes/", views.open_quote_margins, name="open_quote_margins"),
]
