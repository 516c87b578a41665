"""One shape for every API error: code, detail and, for bad input, the fields."""

from typing import Any

from rest_framework.exceptions import APIException, ValidationError
from rest_framework.response import Response
from rest_framework.views import exception_handler as drf_handler

from blendshop.errors import DomainError


def exception_handler(error: Exception, context: dict[str, Any]) -> Response | None:
    if isinstance(error, DomainError):
        body = {"code": error.code, "detail": error.message, "fields": error.fields}
        return Response(body, status=error.status, headers=error.headers)
    response = drf_handler(error, context)
    if response is None:
        return None
    if isinstance(error, ValidationError):
        fields = response.data if isinstance(response.data, dict) else {"body": response.data}
        response.data = {
            "code": "bad_input",
            "detail": "The request has fields that need correcting.",
            "fields": fields,
        }
    elif isinstance(error, APIException):
        code = error.get_codes()
        response.data = {
            "code": code if isinstance(code, str) else "error",
            "detail": str(error.detail),
            "fields": {},
        }
    return response
