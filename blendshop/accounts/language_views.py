"""A person's own language and units."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from blendshop.accounts.actions.language import choose
from blendshop.accounts.signed_in import signed_in
from blendshop.languages.choice import choice_for, choice_of, written_in
from blendshop.languages.forms import ChoiceForm


@require_http_methods(["GET", "HEAD", "POST"])
def own_language(request: HttpRequest) -> HttpResponse:
    """How pages and mails are written for who is signed in."""
    user = signed_in(request)
    now = {"language": user.language, "units": user.units}
    data = request.POST if request.method == "POST" else None
    form = ChoiceForm(data, initial=now, above=choice_for(user.company))
    if request.method == "POST" and form.is_valid():
        choose(acting_user=user, **form.cleaned_data)
        with written_in(choice_of(user)):
            messages.success(request, _("Saved."))
        return redirect("own_language")
    return render(request, "account/own_language.html", {"form": form})
