"""A person's own phone number."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from blendshop.accounts.actions.own_phone import ON_QUOTES, set_own_phone
from blendshop.accounts.forms import OwnPhoneForm
from blendshop.accounts.signed_in import signed_in
from blendshop.errors import BadInput
from blendshop.roles import role_required


@role_required(*ON_QUOTES)
@require_http_methods(["GET", "HEAD", "POST"])
def own_phone(request: HttpRequest) -> HttpResponse:
    """What stands beside the name on quotes."""
    user = signed_in(request)
    form = OwnPhoneForm(request.POST or None, initial={"phone": user.phone})
    if form.is_bound and form.is_valid():
        try:
            set_own_phone(acting_user=user, phone=form.cleaned_data["phone"])
        except BadInput as refused:
            form.add_error("phone", refused.message)
        else:
            messages.success(request, _("Saved."))
            return redirect("own_phone")
    return render(
        request, "account/own_phone.html", {"form": form}, status=400 if form.errors else 200
    )
