"""One shape for every API error: code, detail, fields of bad input, the request's number."""

from collections.abc import Mapping
from typing import Any

from rest_framework.exceptions import APIException, ValidationError
from rest_framework.response import Response
from rest_framework.views import exception_handler as drf_handler

from blendshop.errors import DomainError
from blendshop.monitoring.request_number import request_number


def error_body(code: str, detail: str, fields: Mapping[str, Any] | None = None) -> dict[str, Any]:
    return {"code": code, "detail": detail, "fields": fields or {}, "request": request_number()}


def exception_handler(error: Exception, context: dict[str, Any]) -> Response | None:
    if isinstance(error, DomainError):
        body = error_body(error.code, error.message, error.fields)
        return Response(body, status=error.status, headers=error.headers)
    response = drf_handler(error, context)
    if response is None:
        return None
    if isinstance(error, ValidationError):
        fields = response.data if isinstance(response.data, dict) else {"body": response.data}
        response.data = error_body(
            "bad_input", "The request has fields that need correcting.", fields
        )
    elif isinstance(error, APIException):
        code = error.get_codes()
        response.data = error_body(code if isinstance(code, str) else "error", str(error.detail))
    return response
