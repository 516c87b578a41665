"""The stateless contracts over HTTP; the same code as the commands and the blend page."""

from typing import Any

from django.conf import settings
from django.utils import timezone
from drf_spectacular.utils import OpenApiExample, extend_schema
from rest_framework.exceptions import ParseError
from rest_framework.parsers import BaseParser
from rest_framework.permissions import IsAuthenticated
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from blendshop.roles import SEES_COST, role_permission
from formulas.contracts.formulation import catalogue_for, formulate, spray_sheet
from formulas.contracts.strict_json import read_json
from formulas.http_api.schema import (
    ErrorShape,
    FormulationAnswerShape,
    FormulationRequestShape,
    SpraySheetAnswerShape,
    SpraySheetRequestShape,
)

_REFUSALS = {400: ErrorShape, 401: ErrorShape, 403: ErrorShape}


class StrictJSONParser(BaseParser):
    """JSON by the project's own strict reader, and never more than a form may hold."""

    media_type = "application/json"

    def parse(self, stream: Any, media_type: str | None = None, parser_context: Any = None) -> Any:
        most = settings.DATA_UPLOAD_MAX_MEMORY_SIZE
        text = stream.read(most + 1)
        if len(text) > most:
            raise ParseError(f"The request is larger than {most:,} bytes.")
        return read_json(text)


class FormulationView(APIView):
    parser_classes = (StrictJSONParser,)
    permission_classes = (role_permission(*SEES_COST),)

    @extend_schema(
        operation_id="formulate",
        summary="Formulate a blend",
        description=(
            "The cheapest (or strongest) blend that meets every wish, or which wishes conflict, "
            "how far each could go, and blends that can be made instead. Stateless. Costs are "
            "inside, so it needs the role rep, formulator or office."
        ),
        request=FormulationRequestShape,
        responses={200: FormulationAnswerShape, **_REFUSALS},
        examples=[
            OpenApiExample(
                "Half slow release",
                request_only=True,
                value={
                    "targets": [{"nutrient": "N", "min": 24}, {"nutrient": "K2O", "min": 3}],
                    "slow_release_pct": {"min": 50},
                    "fill": {"volume_gal": 265},
                },
            ),
            OpenApiExample(
                "A recipe evaluated on stocks of one's own",
                request_only=True,
                value={
                    "stocks": [
                        {
                            "code": "A",
                            "density_lb_per_gal": 10.67,
                            "cost_per_lb": "0.1660",
                            "analysis": {"N.urea": 14, "N.ammoniacal": 7, "N.nitrate": 7},
                        },
                        {
                            "code": "W",
                            "density_lb_per_gal": 8.34,
                            "cost_per_lb": "0",
                            "traits": ["water"],
                        },
                    ],
                    "recipe": [{"code": "A", "pct": 75}, {"code": "W", "pct": 25}],
                    "fill": {"mass_lb": 2000},
                },
            ),
        ],
    )
    def post(self, request: Request) -> Response:
        catalogue = catalogue_for(request.data, timezone.localdate())
        return Response(formulate(request.data, catalogue=catalogue).answer.contract_json())


class SpraySheetView(APIView):
    parser_classes = (StrictJSONParser,)
    permission_classes = (IsAuthenticated,)

    @extend_schema(
        operation_id="spray_sheet",
        summary="Work out a spray sheet",
        description=(
            "From a product and a rate per 1,000 sq ft: what to measure out, what a tank and the "
            "product on hand cover, what it costs, and the cautions with their sources. Stateless."
        ),
        request=SpraySheetRequestShape,
        responses={200: SpraySheetAnswerShape, **_REFUSALS},
        examples=[
            OpenApiExample(
                "0.7 lb of N in 2 gal",
                request_only=True,
                value={
                    "analysis": {"N.urea": 7.84, "N.slow": 20.16},
                    "density_lb_per_gal": 10.7,
                    "n_rate_lb_per_1000sqft": 0.7,
                    "carrier_gal_per_1000sqft": 2.0,
                    "tank_gal": 200,
                    "on_hand_gal": 265,
                    "cost_per_gal": "4.10",
                },
            )
        ],
    )
    def post(self, request: Request) -> Response:
        return Response(spray_sheet(request.data))
