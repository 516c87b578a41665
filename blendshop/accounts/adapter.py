"""How allauth is used here: people are added by the office, guesses are counted by address."""

from typing import Any

from allauth.account.adapter import DefaultAccountAdapter
from django.contrib.sites.shortcuts import get_current_site
from django.core.cache import cache
from django.core.exceptions import ValidationError
from django.http import HttpRequest
from django.urls import reverse

from blendshop.accounts.mails import record_of
from blendshop.accounts.models import SecurityEvent, User
from blendshop.accounts.security_log import address_of, write_event
from blendshop.languages.choice import choice_of, written_in
from blendshop.outbox.actions import post_mail

#: A lock-out is written once while it lasts, as long as the limit counts.
_LOCKED_S = 300


class HouseAccounts(DefaultAccountAdapter):  # type: ignore[misc] # allauth has no types
    def is_open_for_signup(self, request: HttpRequest) -> bool:
        return False

    def send_mail(self, template_prefix: str, email: str, context: dict[str, Any]) -> None:
        """Post what the library would send while the page waits."""
        known = {"request": self.request, "email": email}
        known["current_site"] = get_current_site(self.request)
        person = context.get("user") or User.objects.filter(email__iexact=email).first()
        with written_in(choice_of(person)):
            mail = self.render_mail(template_prefix, email, {**known, **context})
        post_mail(
            to=mail.to,
            subject=mail.subject,
            text=mail.body,
            about=record_of(person) if person else ("person", ""),
            has_secret=True,
        )

    def _get_login_attempts_cache_key(self, request: HttpRequest, **credentials: Any) -> str:
        """Failures count for an account *from one address*: a stranger locks out only himself."""
        key = super()._get_login_attempts_cache_key(request, **credentials)
        return f"{address_of(request)}:{key}"

    def pre_authenticate(self, request: HttpRequest, **credentials: Any) -> None:
        try:
            super().pre_authenticate(request, **credentials)
        except ValidationError:
            key = self._get_login_attempts_cache_key(request, **credentials)
            if cache.add(f"locked-out:{key}", "written", _LOCKED_S):
                self._write(SecurityEvent.Kind.LOCKED_OUT, request, credentials)
            raise

    def authentication_failed(self, request: HttpRequest, **credentials: Any) -> None:
        self._write(SecurityEvent.Kind.SIGN_IN_FAILED, request, credentials)

    def reauthenticate(self, user: User, password: str) -> bool:
        """The address a person signs in with is the person's own; allauth asks another table."""
        found = self.authenticate(self.request, email=user.email, password=password)
        return found is not None and found.pk == user.pk

    def get_password_change_redirect_url(self, request: HttpRequest) -> str:
        return reverse("own_sign_in")

    def _write(
        self, kind: SecurityEvent.Kind, request: HttpRequest, credentials: dict[str, Any]
    ) -> None:
        email = str(credentials.get("email", ""))
        person = User.objects.filter(email__iexact=email).first()
        write_event(kind, whom=person, whom_name=email, address=address_of(request))
