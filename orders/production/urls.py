"""Page routes: batches, the charging screen, the paper ticket, readings, packages, release."""

from django.urls import URLPattern, path

from orders.production import batch_views, charging_views, paper_views, quality_views

_BATCH = "batches/<str:number>/"

urlpatterns: list[URLPattern] = [
    path("batches/", batch_views.batch_list, name="batch_list"),
    # Beside the screens it keeps: a worker sees what lies below its own address.
    path("batches/worker.js", charging_views.charging_worker, name="charging_worker"),
    path(_BATCH, batch_views.batch_detail, name="batch_detail"),
    path(f"{_BATCH}made/", charging_views.batch_made, name="batch_made"),
    path(f"{_BATCH}release/", quality_views.batch_release, name="batch_release"),
    path(f"{_BATCH}go-ahead/", batch_views.batch_go_ahead, name="batch_go_ahead"),
    path(f"{_BATCH}cancel/", batch_views.batch_cancel, name="batch_cancel"),
    path(f"{_BATCH}charge/", charging_views.batch_charge, name="batch_charge"),
    path(f"{_BATCH}charge/lot/", charging_views.batch_lot, name="batch_lot"),
    path(f"{_BATCH}paper-ticket/", paper_views.batch_paper, name="batch_paper"),
    path(
        f"{_BATCH}reverse-charge/", charging_views.batch_reverse_charge, name="batch_reverse_charge"
    ),
    path(f"{_BATCH}correct/", charging_views.batch_correct, name="batch_correct"),
    path(f"{_BATCH}lower/", charging_views.batch_lower, name="batch_lower"),
    path(f"{_BATCH}quality/", quality_views.batch_quality, name="batch_quality"),
    path(f"{_BATCH}density/", quality_views.batch_adopt_density, name="batch_adopt_density"),
    path(f"{_BATCH}set-aside/", quality_views.batch_set_aside, name="batch_set_aside"),
    path(f"{_BATCH}packages/", quality_views.batch_packages, name="batch_packages"),
    path(f"{_BATCH}close/", quality_views.batch_close, name="batch_close"),
    path(f"{_BATCH}rinse/", quality_views.batch_rinse, name="batch_rinse"),
]
