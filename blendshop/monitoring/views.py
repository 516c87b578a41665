"""Addresses for machines; ``ProbeMiddleware`` answers them before anything else is asked."""

import hmac

from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.views.decorators.http import require_safe
from prometheus_client import CONTENT_TYPE_LATEST

from blendshop import __version__
from blendshop.monitoring.metrics import scraped
from blendshop.monitoring.readiness import reasons_not_ready


@login_not_required
@require_safe
def alive(request: HttpRequest) -> HttpResponse:
    """The process answers; nothing else is asked."""
    return HttpResponse("ok", content_type="text/plain")


@login_not_required
@require_safe
def ready(request: HttpRequest) -> JsonResponse:
    """503 with the reasons while requests would fail."""
    reasons = reasons_not_ready()
    body = {"ready": not reasons, "reasons": reasons, "version": __version__}
    return JsonResponse(body, status=503 if reasons else 200)


@login_not_required
@require_safe
def metrics(request: HttpRequest) -> HttpResponse:
    """For who has the token; there is nothing here for anybody else."""
    given = request.headers.get("Authorization", "")
    wanted = f"Bearer {settings.METRICS_TOKEN}"
    if not settings.METRICS_TOKEN or not hmac.compare_digest(given.encode(), wanted.encode()):
        raise Http404
    return HttpResponse(scraped(), content_type=CONTENT_TYPE_LATEST)
