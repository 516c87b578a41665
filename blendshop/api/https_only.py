"""What a program sends in clear text is refused, not led elsewhere.

A redirect would work, and go on working, while the token is read by everybody on the way.
"""

from collections.abc import Callable
from typing import Final

from django.conf import settings
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.utils.translation import gettext as _

from blendshop.api.errors import error_body

_API: Final = "/api/"


class HttpsOnlyApi:
    """Middleware, before the one that leads pages to https."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        is_clear = settings.SECURE_SSL_REDIRECT and not request.is_secure()
        if is_clear and request.path_info.startswith(_API):
            told = _("This is answered over https only. Have a token that was sent replaced.")
            return JsonResponse(error_body("https_only", told), status=403)
        return self.get_response(request)
