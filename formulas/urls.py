"""Pages of stocks and blends."""

from django.urls import path

from formulas.blends import views as blends
from formulas.jar_tests import views as jar_tests
from formulas.stocks import cost_views as costs
from formulas.stocks import upload_views as catalogue
from formulas.stocks import views as stocks

# /stocks/: names that are no stock code come first
stock_urls = [
    path("stocks/", stocks.stock_list, name="stock_list"),
    path("stocks/upload/", catalogue.stock_upload, name="stock_upload"),
    path("stocks/upload/<int:pk>/", catalogue.stock_upload_preview, name="stock_upload_preview"),
    path("stocks/costs/", costs.stock_costs, name="stock_costs"),
    path("stocks/costs/<str:code>/move/", costs.stock_cost_move, name="stock_cost_move"),
    path("stocks/export.csv", catalogue.stock_export, name="stock_export"),
    path("stocks/options/", stocks.stock_options, name="stock_options"),
    path("stocks/rules/", stocks.rule_list, name="rule_list"),
    path("stocks/<str:code>/", stocks.stock_detail, name="stock_detail"),
    path("stocks/<str:code>/cost/", stocks.stock_cost, name="stock_cost"),
    path("stocks/<str:code>/short/", stocks.stock_short, name="stock_short"),
    path("stocks/<str:code>/retire/", stocks.stock_retire, name="stock_retire"),
]

# /blends/
blend_urls = [
    path("blends/", blends.blend_list, name="blend_list"),
    path("blends/<int:pk>/", blends.blend_detail, name="blend_detail"),
    path("blends/<int:pk>/rename/", blends.blend_rename, name="blend_rename"),
    path("blends/<int:pk>/archive/", blends.blend_archive, name="blend_archive"),
    path("blends/<int:pk>/review/", blends.blend_review, name="blend_review"),
]

# /jar-tests/
jar_test_urls = [
    path("jar-tests/", jar_tests.jar_test_list, name="jar_test_list"),
    path("jar-tests/register/", jar_tests.jar_test_register, name="jar_test_register"),
    path("jar-tests/<int:pk>/", jar_tests.jar_test_detail, name="jar_test_detail"),
    path("jar-tests/<int:pk>/photo/", jar_tests.jar_test_photo, name="jar_test_photo"),
    path("jar-tests/<int:pk>/withdraw/", jar_tests.jar_test_withdraw, name="jar_test_withdraw"),
]

urlpatterns = [*stock_urls, *blend_urls, *jar_test_urls]
