"""What every request of a signed-in person passes: idle limit, second factor, nothing cached."""

from collections.abc import Callable
from typing import Any, Final

from allauth.usersessions.models import UserSession
from django.conf import settings
from django.contrib import messages
from django.contrib.auth import logout
from django.contrib.auth.middleware import LoginRequiredMiddleware
from django.contrib.auth.views import redirect_to_login
from django.http import HttpRequest, HttpResponse, HttpResponseBase, JsonResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.cache import patch_cache_control
from django.utils.translation import gettext as _

from blendshop.accounts.models import User
from blendshop.accounts.second_factor import is_required, is_set_up, was_shown
from blendshop.accounts.security_log import address_of
from blendshop.accounts.typed import keep_typed

GetResponse = Callable[[HttpRequest], HttpResponse]

#: In the session: when it began and when it was last used, in seconds since 1970.
_BEGUN_AT: Final = "begun_at"
_USED_AT: Final = "used_at"
#: A session in use is written down again after this.
_EVERY_S: Final = 60


class IdleSessionMiddleware:
    """Ends a session nobody has used for BLENDSHOP_SESSION_IDLE_MINUTES, and any in time.

    Also one in use ends, BLENDSHOP_SESSION_HOURS after its sign-in; of somebody of the plant
    BLENDSHOP_STAFF_SESSION_HOURS after it, where that is sooner.
    """

    def __init__(self, get_response: GetResponse) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if request.user.is_authenticated:
            now = timezone.now().timestamp()
            begun_at = request.session.setdefault(_BEGUN_AT, now)
            used_at = request.session.get(_USED_AT, now)
            idle = now - used_at > settings.SESSION_IDLE_MINUTES * 60
            if idle or now - begun_at > _longest_hours(request.user) * 3600:
                logout(request)
            elif _USED_AT not in request.session or now - used_at > _EVERY_S:
                request.session[_USED_AT] = now
                _note_use(request)
        return self.get_response(request)


def _longest_hours(person: Any) -> int:
    of_all: int = settings.SESSION_HOURS
    is_customer = isinstance(person, User) and person.company_id is not None
    return of_all if is_customer else min(of_all, settings.STAFF_SESSION_HOURS)


def note_start(request: HttpRequest) -> None:
    """A session begins in use."""
    request.session[_BEGUN_AT] = request.session[_USED_AT] = timezone.now().timestamp()


def _note_use(request: HttpRequest) -> None:
    """The list of own sessions says when and from where each was last used."""
    rows = UserSession.objects.filter(session_key=request.session.session_key)
    if not rows.update(last_seen_at=timezone.now(), ip=address_of(request)):
        UserSession.objects.create_from_request(request)


class SignInMiddleware(LoginRequiredMiddleware):
    """Leads nobody to the sign-in page: a part of a page learns it by its status instead."""

    def handle_no_permission(  # type: ignore[override] # not only a redirect
        self, request: HttpRequest, view_func: Callable[..., Any]
    ) -> HttpResponseBase:
        answer: HttpResponseBase | None = _over_the_page(request)
        return answer or super().handle_no_permission(request, view_func)


def _over_the_page(request: HttpRequest) -> HttpResponse | None:
    """The answer to a page that goes on where it was once somebody has signed in again."""
    if request.headers.get("HX-Request"):
        return HttpResponse(status=401, headers={"WWW-Authenticate": "Form"})
    if key := keep_typed(request):
        return redirect_to_login(reverse("typed_again", args=[key]))
    return None


class SecondFactorMiddleware:
    """Leads a person whose role asks for a second factor to it before anything else."""

    #: Pages of signing in, and of setting one up.
    _OPEN: Final = ("account_", "mfa_")

    def __init__(self, get_response: GetResponse) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_view(
        self, request: HttpRequest, view: Callable[..., Any], args: Any, kwargs: Any
    ) -> HttpResponseBase | None:
        user = request.user
        if not isinstance(user, User) or not is_required(user):
            return None
        is_api = request.path.startswith("/api/")
        if not is_api and self._is_open(request, view):
            return None
        if was_shown(request) and is_set_up(user):
            return None
        if is_api:
            detail = _("Your role needs a second factor: sign in to the pages and set it up.")
            body = {"code": "second_factor_needed", "detail": detail, "fields": {}}
            return JsonResponse(body, status=403)
        if not is_set_up(user):
            return redirect("mfa_index")
        # Signed in before the second factor was there, perhaps by somebody else.
        logout(request)
        messages.info(request, _("Sign in again, with your second factor."))
        return _over_the_page(request) or redirect("account_login")

    def _is_open(self, request: HttpRequest, view: Callable[..., Any]) -> bool:
        """Whether anybody may see it, or it belongs to signing in. Views of the API never do."""
        if not getattr(view, "login_required", True):
            return True
        match = request.resolver_match
        return (
            match is not None and not match.namespace and str(match.url_name).startswith(self._OPEN)
        )


class NoStoreMiddleware:
    """What a signed-in person is shown is kept by no cache, so that the next one cannot go back.

    The tablet's worker keeps charging screens all the same, on purpose; the sign-in page throws
    them away.
    """

    def __init__(self, get_response: GetResponse) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        if request.user.is_authenticated:
            patch_cache_control(response, no_store=True, private=True)
        return response
