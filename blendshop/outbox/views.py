"""Mails that did not arrive, whatever they are about: sent again or set aside by the office."""

from django.contrib import messages
from django.contrib.auth.models import AbstractUser
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from blendshop.outbox.actions import resend_mail, set_aside_mail
from blendshop.outbox.models import Mail
from blendshop.outbox.standing import mails_in_trouble
from blendshop.roles import Role, role_required


@role_required(Role.OFFICE)
@require_safe
def mail_list(request: HttpRequest) -> HttpResponse:
    """Given up, or tried again; of all records, also of those whose pages show no mails."""
    return render(request, "outbox/mail_list.html", {"record": mails_in_trouble()})


@role_required(Role.OFFICE)
@require_POST
def mail_resend(request: HttpRequest, pk: int) -> HttpResponse:
    """Try a mail that was given up again."""
    if not isinstance(request.user, AbstractUser):
        raise PermissionDenied
    mail = get_object_or_404(Mail, pk=pk)
    resend_mail(mail, acting_user=request.user)
    messages.success(request, _("The mail to {to} will be sent again.").format(to=mail.to))
    return redirect("mail_list")


@role_required(Role.OFFICE)
@require_POST
def mail_set_aside(request: HttpRequest, pk: int) -> HttpResponse:
    """A mail that was given up need not go out."""
    mail = get_object_or_404(Mail, pk=pk)
    set_aside_mail(mail)
    messages.success(request, _("The mail to {to} is set aside.").format(to=mail.to))
    return redirect("mail_list")
