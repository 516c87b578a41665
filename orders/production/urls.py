"""Page routes: the plant floor, from the charging screen to the packing list."""

from django.urls import URLPattern, path

from orders.papers import plant_views as plant_papers
from orders.planning import views as planning
from orders.production import charging_views as charging
from orders.production import quality_views as quality

urlpatterns: list[URLPattern] = [
    path("planning/", planning.tank_planning, name="tank_planning"),
    path("planning/plan/", planning.tank_planning_plan, name="tank_planning_plan"),
    path("planning/combine/", planning.tank_planning_combine, name="tank_planning_combine"),
    # Beside the screens it keeps: a worker sees what lies below its own address.
    path("batches/worker.js", charging.charging_worker, name="charging_worker"),
    # /batches/<number>/
    path("batches/<str:number>/charge/", charging.batch_charge, name="batch_charge"),
    path("batches/<str:number>/take-back/", charging.batch_reverse_charge, name="batch_take_back"),
    path("batches/<str:number>/correct/", charging.batch_correct, name="batch_correct"),
    path("batches/<str:number>/lower/", charging.batch_lower, name="batch_lower"),
    path("batches/<str:number>/quality/", quality.batch_quality, name="batch_quality"),
    path("batches/<str:number>/density/", quality.batch_adopt_density, name="batch_adopt_density"),
    path("batches/<str:number>/packages/", quality.batch_packages, name="batch_packages"),
    path("batches/<str:number>/close/", quality.batch_close, name="batch_close"),
    path("batches/<str:number>/rinse/", quality.batch_rinse, name="batch_rinse"),
    path(
        "batches/<str:number>/pick-list.pdf",
        plant_papers.batch_pick_list_pdf,
        name="batch_pick_list_pdf",
    ),
    path("batches/<str:number>/record.pdf", plant_papers.batch_record_pdf, name="batch_record_pdf"),
    path(
        "batches/<str:number>/parts/<int:position>/certificate.pdf",
        plant_papers.part_certificate_pdf,
        name="part_certificate_pdf",
    ),
    path(
        "batches/<str:number>/package-labels.pdf",
        plant_papers.batch_package_labels_pdf,
        name="batch_package_labels_pdf",
    ),
    path(
        "orders/<str:number>/packing-list.pdf",
        plant_papers.order_packing_list_pdf,
        name="order_packing_list_pdf",
    ),
]
