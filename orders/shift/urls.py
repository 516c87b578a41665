"""Pages of the day and of what a shift signs."""

from django.urls import path

from orders.shift import sample_views, views

urlpatterns = [
    path("day/", views.the_day, name="the_day"),
    path("day/undone/", views.day_undone, name="day_undone"),
    path("day/notes/", views.handover_notes, name="handover_notes"),
    path("day/notes/<int:pk>/read/", views.handover_read, name="handover_read"),
    path("day/unsent/", views.unsent_report, name="unsent_report"),
    path("day/unsent/<int:pk>/settled/", views.unsent_settle, name="unsent_settle"),
    path("tanks/<int:pk>/cleaning/", views.tank_cleaning, name="tank_cleaning"),
    path("samples/", sample_views.sample_list, name="sample_list"),
    path("samples/<int:pk>/discard/", sample_views.sample_discard, name="sample_discard"),
    path("batches/<str:number>/sample/", sample_views.batch_sample, name="batch_sample"),
]
