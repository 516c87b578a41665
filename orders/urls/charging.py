"""Page routes: the plant floor, from the charging screen to the packing list."""

from django.urls import URLPattern, path

from orders.views import charging, quality

urlpatterns: list[URLPattern] = [
    # /batches/<number>/
    path("batches/<str:number>/charge/", charging.batch_charge, name="batch_charge"),
    path("batches/<str:number>/take-back/", charging.batch_take_back, name="batch_take_back"),
    path("batches/<str:number>/correct/", charging.batch_correct, name="batch_correct"),
    path("batches/<str:number>/quality/", quality.batch_quality, name="batch_quality"),
    path("batches/<str:number>/density/", quality.batch_adopt_density, name="batch_adopt_density"),
    path("batches/<str:number>/packages/", quality.batch_packages, name="batch_packages"),
    path("batches/<str:number>/close/", quality.batch_close, name="batch_close"),
    path("batches/<str:number>/rinse/", quality.batch_rinse, name="batch_rinse"),
]
