"""Page routes: the plant's papers."""

from django.urls import URLPattern, path

from orders.papers import plant_views

_BATCH = "batches/<str:number>/"

urlpatterns: list[URLPattern] = [
    path(f"{_BATCH}ticket.pdf", plant_views.batch_ticket_pdf, name="batch_ticket_pdf"),
    path(f"{_BATCH}pick-list.pdf", plant_views.batch_pick_list_pdf, name="batch_pick_list_pdf"),
    path(f"{_BATCH}record.pdf", plant_views.batch_record_pdf, name="batch_record_pdf"),
    path(
        f"{_BATCH}parts/<int:position>/certificate.pdf",
        plant_views.part_certificate_pdf,
        name="part_certificate_pdf",
    ),
    path(
        f"{_BATCH}package-labels.pdf",
        plant_views.batch_package_labels_pdf,
        name="batch_package_labels_pdf",
    ),
    path(
        "orders/<str:number>/packing-list.pdf",
        plant_views.order_packing_list_pdf,
        name="order_packing_list_pdf",
    ),
]
