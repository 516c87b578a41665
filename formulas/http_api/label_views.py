"""Label drafts and assay checks over HTTP; the same code as the commands."""

from drf_spectacular.utils import OpenApiExample, extend_schema
from rest_framework.permissions import IsAuthenticated
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from formulas.contracts.assay_checks import assay_check
from formulas.contracts.label_drafts import label_draft
from formulas.http_api.label_schema import (
    AssayCheckAnswerShape,
    AssayCheckRequestShape,
    LabelDraftAnswerShape,
    LabelDraftRequestShape,
)
from formulas.http_api.schema import ErrorShape
from formulas.http_api.views import StrictJSONParser

_REFUSALS = {400: ErrorShape, 401: ErrorShape, 403: ErrorShape}


class LabelDraftView(APIView):
    parser_classes = (StrictJSONParser,)
    permission_classes = (IsAuthenticated,)

    @extend_schema(
        operation_id="label_draft",
        summary="Draft a label",
        description=(
            "From an analysis and its sources: what may be guaranteed, always rounded down, in "
            "printed order; what may not, with the rule; metals against their limits. Lines may "
            "be lowered or dropped, never raised. Stateless; a draft for review."
        ),
        request=LabelDraftRequestShape,
        responses={200: LabelDraftAnswerShape, **_REFUSALS},
        examples=[
            OpenApiExample(
                "Half slow release, zinc below its minimum",
                request_only=True,
                value={
                    "analysis": {"N.urea": 12.31, "N.slow": 12.9, "K2O": 3.07, "Zn": 0.03},
                    "kind": "specialty",
                    "sources": [{"name": "urea-triazone solution", "supplies": {"N": 21.0}}],
                    "density_lb_per_gal": 10.7,
                    "volume_gal": 265,
                },
            )
        ],
    )
    def post(self, request: Request) -> Response:
        return Response(label_draft(request.data))


class AssayCheckView(APIView):
    parser_classes = (StrictJSONParser,)
    permission_classes = (IsAuthenticated,)

    @extend_schema(
        operation_id="assay_check",
        summary="Check an assay",
        description=(
            "A laboratory's findings against the guarantees: meets, within the investigational "
            "allowance, or deficient, each with its source, and the overall index. Stateless; a "
            "screening aid."
        ),
        request=AssayCheckRequestShape,
        responses={200: AssayCheckAnswerShape, **_REFUSALS},
        examples=[
            OpenApiExample(
                "28-0-0 found short",
                request_only=True,
                value={
                    "guarantees": {"N": 28, "K2O": 0, "Fe": 0.1},
                    "found": {"N": 27.2, "Fe": 0.09},
                },
            )
        ],
    )
    def post(self, request: Request) -> Response:
        return Response(assay_check(request.data))
