"""One stateless contract over HTTP: strict JSON in, the contract's own answer or refusal out.

A refusal is the contract's ``BadInput``; ``blendshop.api.errors`` makes it status 400 with the
fields that are wrong.
"""

from abc import ABC, abstractmethod
from collections.abc import Mapping
from typing import Any, Final

from django.conf import settings
from drf_spectacular.utils import OpenApiExample, extend_schema, extend_schema_view
from rest_framework.exceptions import ParseError
from rest_framework.parsers import BaseParser
from rest_framework.permissions import BasePermission, IsAuthenticated
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from blendshop.accounts.signed_in import signed_in
from blendshop.one_at_a_time import one_computation
from formulas.contracts.strict_json import read_json
from formulas.http_api.schema import ErrorShape, Shape

_REFUSALS: Final = {400: ErrorShape, 401: ErrorShape, 403: ErrorShape}


class StrictJSONParser(BaseParser):
    """JSON by the project's own strict reader, and never more than a form may hold."""

    media_type = "application/json"

    def parse(self, stream: Any, media_type: str | None = None, parser_context: Any = None) -> Any:
        most = settings.DATA_UPLOAD_MAX_MEMORY_SIZE
        text = stream.read(most + 1)
        if len(text) > most:
            raise ParseError(f"The request is larger than {most:,} bytes.")
        return read_json(text)


class ContractView(APIView, ABC):
    """Anyone signed in may ask, unless a contract says more; ``answer`` is the contract."""

    parser_classes = (StrictJSONParser,)
    permission_classes: tuple[type[BasePermission], ...] = (IsAuthenticated,)
    #: Whether the engine is asked: then a person has one question at a time.
    computes = False

    def post(self, request: Request) -> Response:
        body = request.data
        if not self.computes:
            return Response(self.answer(body))
        with one_computation(signed_in(request).pk):
            return Response(self.answer(body))

    @abstractmethod
    def answer(self, body: Any) -> Mapping[str, Any]:
        """The answer to a body that is JSON and nothing more; raises BadInput."""


def described(
    name: str,
    summary: str,
    description: str,
    *,
    request: type[Shape],
    answer: type[Shape],
    examples: Mapping[str, Mapping[str, Any]],
) -> Any:
    """Decorates a ``ContractView``; ``examples`` are whole requests by title."""
    return extend_schema_view(
        post=extend_schema(
            operation_id=name,
            summary=summary,
            description=description,
            request=request,
            responses={200: answer, **_REFUSALS},
            examples=[
                OpenApiExample(title, request_only=True, value=value)
                for title, value in examples.items()
            ],
        )
    )
