"""What allauth and the token table tell becomes lines of the security log."""

from typing import Any

from allauth.account.adapter import get_adapter
from allauth.account.signals import password_changed, password_reset, user_logged_in
from allauth.core import context
from allauth.mfa.models import Authenticator
from allauth.mfa.signals import (
    authentication_failed,
    authenticator_added,
    authenticator_removed,
    authenticator_reset,
    authenticator_used,
)
from django.contrib.auth.signals import user_logged_in as session_begins
from django.db import transaction
from django.db.models.signals import post_delete, post_save, pre_save
from django.dispatch import receiver
from django.http import HttpRequest
from django.utils.translation import gettext as _
from rest_framework.authtoken.models import Token

from blendshop.accounts.actions.closing import close_ways_in, revoke_tokens_without_factor
from blendshop.accounts.middleware import note_start
from blendshop.accounts.models import SecurityEvent, User
from blendshop.accounts.second_factor import (
    FACTORS,
    factor_words,
    is_required,
    is_set_up,
    note_shown,
)
from blendshop.accounts.security_log import address_of, write_event
from blendshop.errors import NotAllowed

Kind = SecurityEvent.Kind


@receiver(session_begins)
def _session_begins(request: HttpRequest, **kwargs: Any) -> None:
    note_start(request)


@receiver(user_logged_in)
def _signed_in(request: HttpRequest, user: User, **kwargs: Any) -> None:
    write_event(Kind.SIGNED_IN, who=user, whom=user, address=address_of(request))


@receiver(password_changed)
def _password_changed(request: HttpRequest, user: User, **kwargs: Any) -> None:
    with transaction.atomic():
        closed = close_ways_in(user, but_session=request.session.session_key)
        what = _("Changed by the person; {closed}.").format(closed=closed)
        write_event(Kind.PASSWORD_SET, who=user, whom=user, what=what, address=address_of(request))


@receiver(password_reset)
def _password_reset(request: HttpRequest, user: User, **kwargs: Any) -> None:
    with transaction.atomic():
        closed = close_ways_in(user)
        what = _("Chosen through the link in a mail; {closed}.").format(closed=closed)
        write_event(Kind.PASSWORD_SET, who=user, whom=user, what=what, address=address_of(request))
    # Who has a new password starts counting anew.
    get_adapter()._delete_login_attempts_cached_email(request, email=user.email)


@receiver(post_save, sender=Authenticator)
def _set_up(instance: Authenticator, created: bool, **kwargs: Any) -> None:  # noqa: FBT001
    """Whoever sets one up has it: this session need not show it once more."""
    request = context.request
    if created and instance.type in FACTORS and request is not None:
        note_shown(request)


@receiver(authenticator_added)
def _added(request: HttpRequest, user: User, authenticator: Authenticator, **kwargs: Any) -> None:
    if authenticator.type not in FACTORS:
        return
    what = factor_words(authenticator)
    write_event(Kind.FACTOR_ADDED, who=user, whom=user, what=what, address=address_of(request))


@receiver(authenticator_used)
def _used(request: HttpRequest, **kwargs: Any) -> None:
    note_shown(request)


@receiver(authenticator_removed)
def _removed(request: HttpRequest, user: User, authenticator: Authenticator, **kwargs: Any) -> None:
    what = factor_words(authenticator)
    write_event(Kind.FACTOR_REMOVED, who=user, whom=user, what=what, address=address_of(request))
    revoke_tokens_without_factor(user)


@receiver(authenticator_reset)
def _renewed(request: HttpRequest, user: User, **kwargs: Any) -> None:
    write_event(Kind.CODES_RENEWED, who=user, whom=user, address=address_of(request))


@receiver(authentication_failed)
def _failed(request: HttpRequest, user: User, authenticator: Authenticator, **kwargs: Any) -> None:
    what = factor_words(authenticator)
    write_event(Kind.FACTOR_FAILED, whom=user, what=what, address=address_of(request))


@receiver(pre_save, sender=Token)
def _may_have_token(instance: Token, **kwargs: Any) -> None:
    """A token knows no second factor: it goes to whoever has shown one where the role asks."""
    if not instance.user.is_active or (is_required(instance.user) and not is_set_up(instance.user)):
        raise NotAllowed(
            _("{person} sets up a second factor before a token is issued.").format(
                person=instance.user
            )
        )


@receiver(post_save, sender=Token)
def _token_issued(instance: Token, created: bool, **kwargs: Any) -> None:  # noqa: FBT001
    if created:
        write_event(Kind.TOKEN_ISSUED, whom=instance.user)


@receiver(post_delete, sender=Token)
def _token_revoked(instance: Token, **kwargs: Any) -> None:
    write_event(Kind.TOKEN_REVOKED, whom=instance.user)
