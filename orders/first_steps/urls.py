"""Page routes: where everybody begins, the first steps, and the plant's own settings."""

from django.urls import URLPattern, path

from orders.first_steps import views

urlpatterns: list[URLPattern] = [
    path("", views.home, name="home"),
    path("start/", views.first_steps, name="first_steps"),
    path("start/plant/", views.plant_profile, name="plant_profile"),
    path("start/prices/", views.price_setting, name="price_setting"),
    path("start/packages/", views.package_setting, name="package_setting"),
    path("start/tanks/", views.tank_setting, name="tank_setting"),
    path("start/days/", views.day_setting, name="day_setting"),
    path("start/delivery/", views.delivery_setting, name="delivery_setting"),
    path("start/fees/", views.fee_setting, name="fee_setting"),
    path("start/people/", views.people_setting, name="people_setting"),
]
