"""A person's own sign-in, and the security log of the office."""

from allauth.usersessions.models import UserSession
from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import Q
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from blendshop.accounts.actions.way_in import end_session
from blendshop.accounts.devices import device_words
from blendshop.accounts.forms import SecurityLogSearch
from blendshop.accounts.models import SecurityEvent
from blendshop.accounts.second_factor import is_set_up
from blendshop.accounts.security_log import address_of
from blendshop.accounts.signed_in import signed_in
from blendshop.roles import Role, role_required

EVENTS_A_PAGE = 50


@require_safe
def own_sign_in(request: HttpRequest) -> HttpResponse:
    """Where the person is signed in, and the ways to password and second factor."""
    user = signed_in(request)
    sessions = UserSession.objects.purge_and_list(user)
    newest_first = sorted(sessions, key=lambda each: each.last_seen_at, reverse=True)
    context = {
        "sessions": [(each, device_words(each.user_agent)) for each in newest_first],
        "has_second_factor": is_set_up(user),
    }
    return render(request, "account/own_sign_in.html", context)


@require_POST
def end_own_session(request: HttpRequest, pk: int) -> HttpResponse:
    """End one of the own sessions; another's is not there."""
    user = signed_in(request)
    session = get_object_or_404(UserSession, pk=pk, user=user)
    end_session(acting_user=user, session=session, address=address_of(request))
    messages.success(request, _("The session is ended."))
    return redirect("own_sign_in")


@role_required(Role.OFFICE)
@require_safe
def security_log(request: HttpRequest) -> HttpResponse:
    """Who did what to whose way in, the newest on top."""
    form = SecurityLogSearch(request.GET)
    events = SecurityEvent.objects.all()
    if form.is_valid():
        if form.cleaned_data["kind"]:
            events = events.filter(kind=form.cleaned_data["kind"])
        if words := form.cleaned_data["q"].strip():
            about = ("who_name", "whom_name", "who__email", "whom__email", "address")
            matches = Q()
            for field in about:
                matches |= Q(**{f"{field}__icontains": words})
            events = events.filter(matches)
    page = Paginator(events, EVENTS_A_PAGE).get_page(request.GET.get("page"))
    return render(request, "account/security_log.html", {"form": form, "page": page})
