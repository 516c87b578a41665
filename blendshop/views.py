"""The health checks."""

from django.db import connection
from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_safe


@require_safe
def alive(request: HttpRequest) -> HttpResponse:
    """The process answers; nothing else is asked."""
    return HttpResponse("ok", content_type="text/plain")


@require_safe
def ready(request: HttpRequest) -> HttpResponse:
    """The database answers too."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT 1")
    return HttpResponse("ready", content_type="text/plain")
