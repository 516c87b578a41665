"""Page routes: mails in trouble."""

from django.urls import URLPattern, path

from blendshop.outbox import views

urlpatterns: list[URLPattern] = [
    path("", views.mail_list, name="mail_list"),
    path("<int:pk>/again/", views.mail_resend, name="mail_resend"),
    path("<int:pk>/set-aside/", views.mail_set_aside, name="mail_set_aside"),
]
