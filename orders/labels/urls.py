"""Page routes: the label of a batch's part, which is one customer's."""

from django.urls import URLPattern, path

from orders.labels import views as labels

_LABEL = "batches/<str:number>/parts/<int:position>/label/"

urlpatterns: list[URLPattern] = [
    path("labels/", labels.labels_waiting, name="labels_waiting"),
    path(_LABEL, labels.label_detail, name="label_detail"),
    path(f"{_LABEL}change/", labels.label_change, name="label_change"),
    path(f"{_LABEL}approve/", labels.label_approve, name="label_approve"),
    path(f"{_LABEL}withdraw/", labels.label_withdraw, name="label_withdraw"),
    path(f"{_LABEL}letter.pdf", labels.label_letter_pdf, name="label_letter_pdf"),
    path(f"{_LABEL}placard.pdf", labels.label_placard_pdf, name="label_placard_pdf"),
    path(f"{_LABEL}4x6.pdf", labels.label_small_pdf, name="label_small_pdf"),
]
