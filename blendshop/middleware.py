"""Turns a domain error raised by a view or an action into a page that says it in a sentence."""

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.cache import patch_vary_headers

from blendshop.errors import DomainError


class DomainErrorMiddleware:
    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        patch_vary_headers(response, ["HX-Request"])
        return response

    def process_exception(self, request: HttpRequest, error: Exception) -> HttpResponse | None:
        if not isinstance(error, DomainError):
            return None
        response = render(request, "refused.html", {"error": error}, status=error.status)
        for name, value in error.headers.items():
            response[name] = value
        return response
