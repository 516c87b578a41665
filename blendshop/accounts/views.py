"""A person's own sign-in, and the security log of the office."""

from typing import Any

from allauth.account.utils import perform_login
from allauth.account.views import PasswordResetFromKeyView
from allauth.usersessions.models import UserSession
from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import Q
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from blendshop.accounts.actions.way_in import end_session
from blendshop.accounts.devices import device_words
from blendshop.accounts.forms import SecurityLogSearch
from blendshop.accounts.models import SecurityEvent, User
from blendshop.accounts.second_factor import is_set_up
from blendshop.accounts.security_log import address_of
from blendshop.accounts.signed_in import signed_in
from blendshop.roles import Role, role_required

EVENTS_A_PAGE = 50


class PasswordByLink(PasswordResetFromKeyView):  # type: ignore[misc] # allauth has no types
    """The library's page behind the link of a mail. Who has no password yet was invited: the page
    greets by name, and the first password signs in at once."""

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        context: dict[str, Any] = super().get_context_data(**kwargs)
        person = self.reset_user
        if person is not None and not person.has_usable_password():
            context["invited"] = person
        return context

    def form_valid(self, form: Any) -> HttpResponseBase:
        person: User = self.reset_user
        is_first = not person.has_usable_password() and person.is_active
        answer: HttpResponseBase = super().form_valid(form)
        # A second factor, where the role asks for one, comes after it as after any sign-in.
        return perform_login(self.request, person) if is_first else answer


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
