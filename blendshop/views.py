"""What stands where something went wrong."""

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.views import defaults

from blendshop.api.errors import error_body


def not_found(request: HttpRequest, exception: Exception) -> HttpResponse:
    """A page, or for a program the API's shape."""
    if _asked_by_program(request):
        return JsonResponse(error_body("not_found", "There is nothing here."), status=404)
    return defaults.page_not_found(request, exception)


def server_error(request: HttpRequest) -> HttpResponse:
    """A page that asks nothing of the database, or for a program the API's shape."""
    if _asked_by_program(request):
        detail = "Something went wrong on our side. Nothing was half saved."
        return JsonResponse(error_body("server_error", detail), status=500)
    return defaults.server_error(request)


def _asked_by_program(request: HttpRequest) -> bool:
    return request.path.startswith("/api/")
