"""Sign-in, and the page that makes the first person of an empty site."""

from allauth.account.views import login as account_login
from django.contrib.auth import login
from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from blendshop.accounts.actions.first_person import make_first_person
from blendshop.accounts.forms import FirstPersonForm
from blendshop.accounts.set_up import LINK_HOURS, PRINTS_LINK, is_nobody_yet, may_set_up
from blendshop.errors import BadInput

_BACKEND = "django.contrib.auth.backends.ModelBackend"


@login_not_required
def sign_in(request: HttpRequest) -> HttpResponseBase:
    """The library's page; on a site without people there is nobody to sign in as."""
    if is_nobody_yet():
        return redirect("set_up")
    found: HttpResponseBase = account_login(request)
    return found


@login_not_required
@never_cache
@sensitive_post_parameters("password", "again")
@require_http_methods(["GET", "HEAD", "POST"])
def set_up(request: HttpRequest) -> HttpResponse:
    """Name, mail and password of the first person; not there once there is anybody."""
    if not is_nobody_yet():
        raise Http404
    sent = request.POST if request.method == "POST" else request.GET
    token = sent.get("token", "")
    if not may_set_up(token):
        context = {
            "form": None,
            "hours": LINK_HOURS,
            "asked": bool(token),
            "command": PRINTS_LINK,
        }
        return render(request, "account/set_up.html", context, status=403 if token else 200)
    form = FirstPersonForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        wanted = form.cleaned_data
        try:
            person = make_first_person(
                name=wanted["name"],
                email=wanted["email"],
                password=wanted["password"],
                also=wanted["also"],
            )
        except BadInput as error:
            form.refuse(error)
        else:
            login(request, person, backend=_BACKEND)
            return redirect("first_steps")
    status = 400 if request.method == "POST" else 200
    return render(request, "account/set_up.html", {"form": form, "token": token}, status=status)
