"""Signing in again over a page that was open, and what was typed into it by then."""

from typing import Any

from csp.constants import SELF
from csp.decorators import csp_replace
from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase, JsonResponse
from django.middleware.csrf import get_token
from django.shortcuts import redirect, render
from django.views.csrf import csrf_failure
from django.views.decorators.cache import never_cache
from django.views.decorators.clickjacking import xframe_options_sameorigin
from django.views.decorators.http import require_safe

from blendshop.accounts.models import User
from blendshop.accounts.second_factor import is_required, is_set_up, was_shown
from blendshop.accounts.signed_in import signed_in
from blendshop.accounts.typed import KEPT_MINUTES, keep_typed, kept_typed


def framed_here(view: Any) -> Any:
    """A page of signing in, which a page of this site, and no other, may show within itself."""
    return csp_replace({"frame-ancestors": [SELF]})(xframe_options_sameorigin(view))


@login_not_required
@never_cache
@require_safe
def signed_in_as(request: HttpRequest) -> JsonResponse:
    """Who is fully signed in (``person``, null for nobody), and the token their forms send."""
    user = request.user
    if not isinstance(user, User) or _owes_second_factor(request, user):
        return JsonResponse({"person": None, "csrf": ""})
    return JsonResponse({"person": user.pk, "csrf": get_token(request)})


@framed_here
@require_safe
def signed_in_again(request: HttpRequest) -> HttpResponse:
    """Where signing in over a page ends; the page sees it and goes on."""
    return render(request, "account/signed_in_again.html")


@never_cache
@require_safe
def typed_again(request: HttpRequest, key: str) -> HttpResponse:
    """What the person had typed when the session was over, to be sent after all."""
    typed = kept_typed(key)
    if typed is None:
        raise Http404
    is_own = typed.person == signed_in(request).pk
    context = {"typed": typed if is_own else None, "minutes": KEPT_MINUTES}
    return render(request, "account/typed_again.html", context, status=200 if is_own else 403)


def refused_token(request: HttpRequest, reason: str = "") -> HttpResponseBase:
    """A form of before another sign-in: nothing is done, what was typed is kept."""
    if not request.headers.get("HX-Request") and (key := keep_typed(request)):
        return redirect("typed_again", key)
    return csrf_failure(request, reason)


def _owes_second_factor(request: HttpRequest, user: User) -> bool:
    return is_required(user) and not (was_shown(request) and is_set_up(user))
