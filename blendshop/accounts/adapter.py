from typing import Any

from allauth.account.adapter import DefaultAccountAdapter
from django.contrib.sites.shortcuts import get_current_site
from django.http import HttpRequest

from blendshop.outbox.actions import post_mail


class ClosedSignup(DefaultAccountAdapter):  # type: ignore[misc] # allauth has no types
    """People are added by the office; nobody signs up alone. Mails go through the outbox."""

    def is_open_for_signup(self, request: HttpRequest) -> bool:
        return False

    def send_mail(self, template_prefix: str, email: str, context: dict[str, Any]) -> None:
        """Post what the library would send while the page waits."""
        known = {"request": self.request, "email": email}
        known["current_site"] = get_current_site(self.request)
        mail = self.render_mail(template_prefix, email, {**known, **context})
        person = context.get("user")
        company = getattr(person, "company_id", None)
        post_mail(
            to=mail.to,
            subject=mail.subject,
            text=mail.body,
            about=("customer", str(company))
            if company
            else ("person", str(getattr(person, "pk", ""))),
            has_secret=True,
        )
