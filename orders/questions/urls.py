"""Page routes: questions of customers."""

from django.urls import URLPattern, path

from orders.questions import views

urlpatterns: list[URLPattern] = [
    path("home/questions/", views.own_questions, name="own_questions"),
    path("questions/<int:pk>/answer/", views.question_answer, name="question_answer"),
]
