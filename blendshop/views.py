"""The front door and the health checks."""

from django.db import connection
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_safe

from blendshop.roles import Role, roles_of


@require_safe
def home(request: HttpRequest) -> HttpResponse:
    """Each role starts where its work is."""
    roles = roles_of(request.user)
    if roles & {Role.REP, Role.FORMULATOR}:
        return redirect("blend_page")
    if Role.PLANT in roles:
        return redirect("the_day")
    if Role.OFFICE in roles:
        return redirect("quote_list")
    return redirect("blend_list")


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
