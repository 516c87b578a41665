"""Page routes: the label of a batch."""

from django.urls import URLPattern, path

from orders.views import labels

urlpatterns: list[URLPattern] = [
    path("batches/<str:number>/label/", labels.label_detail, name="label_detail"),
    path("batches/<str:number>/label/change/", labels.label_change, name="label_change"),
    path(
        "batches/<str:number>/label/placard.pdf", labels.label_placard_pdf, name="label_placard_pdf"
    ),
    path("batches/<str:number>/label/4x6.pdf", labels.label_small_pdf, name="label_small_pdf"),
]
