"""Page routes: crew sheets, their phone page behind a signed link, records of applications."""

from django.urls import URLPattern, path

from orders.crew_sheet import public_views, record_views, views

urlpatterns: list[URLPattern] = [
    path("crew/", views.crew_list, name="crew_list"),
    path("crew/new/<str:number>/<int:position>/", views.crew_new, name="crew_new"),
    path("crew/records/", record_views.crew_records, name="crew_records"),
    path("crew/records.csv", record_views.crew_records_csv, name="crew_records_csv"),
    path(
        "crew/records/<int:pk>/correct/",
        record_views.crew_record_correct,
        name="crew_record_correct",
    ),
    path("crew/phone/worker.js", public_views.crew_worker, name="crew_worker"),
    path("crew/phone/<str:token>/", public_views.crew_phone, name="crew_phone"),
    path("crew/phone/<str:token>/pdf/", public_views.crew_phone_pdf, name="crew_phone_pdf"),
    path("crew/<str:number>/", views.crew_sheet, name="crew_sheet"),
    path("crew/<str:number>/pdf/", views.crew_sheet_pdf, name="crew_sheet_pdf"),
    path("crew/<str:number>/close/", views.crew_sheet_close, name="crew_sheet_close"),
]
