"""Page routes: the plan of scarce stock over all open orders."""

from django.urls import URLPattern, path

from orders.allocation import views as stock_plan

urlpatterns: list[URLPattern] = [
    path("stock/plan/", stock_plan.stock_plan, name="stock_plan"),
    path("stock/plan/again/", stock_plan.stock_plan_again, name="stock_plan_again"),
    path("stock/plan/accept/", stock_plan.stock_plan_accept, name="stock_plan_accept"),
    path(
        "stock/plan/<str:number>/<int:position>/take-back/",
        stock_plan.stock_plan_restore_recipe,
        name="stock_plan_take_back",
    ),
]
