"""Every mail in the back office, to look at; its text is for whom it was written."""

from django.contrib import admin
from django.utils.translation import gettext_lazy as _

from blendshop.back_office import LookOnlyAdmin
from blendshop.outbox.models import Mail


@admin.register(Mail)
class MailAdmin(LookOnlyAdmin):
    list_display = ("to", "subject", "state", "tries", "next_try_at", "sent_at", "last_error")
    list_filter = ("state",)
    search_fields = ("to", "subject", "about_key")
    search_help_text = _("Address, subject or what it is about")
    exclude = ("text",)
    ordering = ("-pk",)
