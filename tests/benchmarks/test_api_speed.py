"""What a formulation over the API takes beside an empty view that asks who is there.

pytest tests/benchmarks/test_api_speed.py --benchmark-enable --benchmark-only -s
"""

import json
from datetime import date
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext, override_settings
from django.urls import path
from rest_framework.authtoken.models import Token
from rest_framework.response import Response
from rest_framework.views import APIView

from blendshop.roles import SEES_COST, role_permission
from blendshop.urls import urlpatterns as all_addresses
from formulas.models import StockCost
from tests.benchmarks.figures import cpu_ms_beside, ms, ratio
from tests.factories import BaseStockFactory, make_simple_catalogue

WISH = {
    "targets": [{"nutrient": "N", "min": 18}, {"nutrient": "K2O", "min": 3}],
    "slow_release_pct": {"min": 25},
    "fill": {"volume_gal": 265},
}


class EmptyView(APIView):
    permission_classes = (role_permission(*SEES_COST),)

    def post(self, request):
        return Response({})


urlpatterns = [path("empty/", EmptyView.as_view()), *all_addresses]


@pytest.mark.parametrize("stock_count", [30, 300])
def test_a_formulation_against_an_empty_view(benchmark, db, client, rep, stock_count):
    make_simple_catalogue()
    for number in range(stock_count - 5):
        stock = BaseStockFactory(
            code=f"S{number}",
            analysis={"N.urea": 5.0 + number % 13, "K2O": 1.0 + number % 7},
            cost_per_lb=f"0.{300 + number}",
        )
        StockCost.objects.bulk_create(
            StockCost(
                stock=stock, amount=Decimal("0.5"), unit="lb", effective_from=date(2020, month, 1)
            )
            for month in range(1, 13)
        )
    headers = {"HTTP_AUTHORIZATION": f"Token {Token.objects.create(user=rep).key}"}
    body = json.dumps(WISH)

    def ask(address):
        answer = client.post(address, body, content_type="application/json", **headers)
        assert answer.status_code == 200, answer.content
        return answer

    with override_settings(ROOT_URLCONF="tests.benchmarks.test_api_speed"):
        assert ask("/api/v1/formulations/").json()["status"] == "solved"
        whole, empty = cpu_ms_beside(
            lambda: ask("/api/v1/formulations/"), lambda: ask("/empty/"), 60
        )
        with CaptureQueriesContext(connection) as asked:
            ask("/api/v1/formulations/")
        with CaptureQueriesContext(connection) as asked_empty:
            ask("/empty/")
    ms(f"empty_api_view_{stock_count}_stocks", empty)
    ratio(f"formulation_api_to_empty_view_{stock_count}_stocks", whole / empty)
    ratio(f"queries_of_formulation_api_{stock_count}_stocks", len(asked))
    ratio(f"queries_of_empty_view_{stock_count}_stocks", len(asked_empty))
    benchmark.pedantic(ask, args=("/api/v1/formulations/",), rounds=1)
