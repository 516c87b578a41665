"""The outermost two: a number, a line and a count for each request, and the answers to machines."""

import logging
from collections.abc import Callable
from time import perf_counter
from typing import Final

from django.http import Http404, HttpRequest, HttpResponse
from django.urls import resolve, reverse

from blendshop.monitoring.metrics import REQUEST_SECONDS, REQUESTS
from blendshop.monitoring.request_number import HEADER, numbered

_log = logging.getLogger("blendshop.requests")
#: Others are counted together, as anybody can invent them.
_METHODS: Final = frozenset({"GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS"})
_PROBES: Final = ("alive", "ready", "metrics")
#: These answer before whatever guards pages does, so they say it themselves: nothing to be shown.
_PROBE_HEADERS: Final = {
    "Content-Security-Policy": "default-src 'none'; frame-ancestors 'none'",
    "X-Content-Type-Options": "nosniff",
    "Cache-Control": "no-store",
}

GetResponse = Callable[[HttpRequest], HttpResponse]


class RequestMiddleware:
    """Numbers a request, and says what came of it under the pattern of its address.

    Never under the address itself: the link of a quote opens it for whoever reads the log.
    """

    def __init__(self, get_response: GetResponse) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        begun = perf_counter()
        with numbered(request) as number:
            response = self.get_response(request)
            response[HEADER] = number
            seconds = perf_counter() - begun
            match = request.resolver_match
            route = match.route if match else "none"
            method = request.method if request.method in _METHODS else "other"
            REQUESTS.labels(method, route, str(response.status_code)).inc()
            REQUEST_SECONDS.labels(route).observe(seconds)
            figures = (method, route, response.status_code, round(seconds * 1000))
            _log.info(
                "%s %s %s in %s ms",
                *figures,
                extra=dict(
                    zip(("method", "route", "status", "milliseconds"), figures, strict=True)
                ),
            )
        return response


class ProbeMiddleware:
    """Answers probes whatever host name they send and also over plain HTTP.

    A load balancer asks each process by its own address, without TLS, and knows no session.
    """

    def __init__(self, get_response: GetResponse) -> None:
        self.get_response = get_response
        # Reads all addresses while the process begins: the first probe must not wait for that.
        self._routes = {path: resolve(path) for path in map(reverse, _PROBES)}

    def __call__(self, request: HttpRequest) -> HttpResponse:
        match = self._routes.get(request.path_info)
        if match is None:
            return self.get_response(request)
        request.resolver_match = match
        try:
            response: HttpResponse = match.func(request)
        except Http404:
            response = HttpResponse(status=404)
        for name, value in _PROBE_HEADERS.items():
            response[name] = value
        return response
