"""The second factor: whose role asks for one, who has one, and how its secrets are kept."""

import base64
from typing import Final

from allauth.mfa.adapter import DefaultMFAAdapter
from allauth.mfa.models import Authenticator
from cryptography.fernet import Fernet, MultiFernet
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.hkdf import HKDF
from django.conf import settings
from django.http import HttpRequest
from django.utils.translation import gettext_lazy as _

from blendshop.accounts.models import User
from blendshop.roles import roles_of

#: Recovery codes stand in for one of these; alone they are none.
FACTORS: Final = (Authenticator.Type.TOTP, Authenticator.Type.WEBAUTHN)
_WORDS: Final = {
    Authenticator.Type.TOTP: _("authenticator app"),
    Authenticator.Type.WEBAUTHN: _("passkey"),
    Authenticator.Type.RECOVERY_CODES: _("recovery codes"),
}
#: In the session: this sign-in has shown a second factor, or set one up.
_SHOWN: Final = "second_factor_shown"


def factor_words(authenticator: Authenticator) -> str:
    """What the house calls it."""
    return str(_WORDS[authenticator.type])


def is_required(user: User) -> bool:
    """Whether one of the person's roles asks for a second factor."""
    wanted = settings.SECOND_FACTOR_ROLES
    return bool(wanted) and any(role.value in wanted for role in roles_of(user))


def is_set_up(user: User) -> bool:
    """Whether the person has an authenticator app or a passkey."""
    return bool(Authenticator.objects.filter(user_id=user.pk, type__in=FACTORS).exists())


def was_shown(request: HttpRequest) -> bool:
    """Whether this session knows more than a password."""
    return bool(request.session.get(_SHOWN))


def note_shown(request: HttpRequest) -> None:
    request.session[_SHOWN] = True


class EncryptedSecrets(DefaultMFAAdapter):  # type: ignore[misc] # allauth has no types
    """Secrets of apps and recovery codes stand in the database under a key of the site's own.

    They are written under SECRET_KEY and read under SECRET_KEY_FALLBACKS too, so a key can be
    replaced; when the old one leaves the fallbacks, what it wrote is lost.
    """

    def encrypt(self, text: str) -> str:
        return _box().encrypt(text.encode()).decode()

    def decrypt(self, encrypted_text: str) -> str:
        return _box().decrypt(encrypted_text.encode()).decode()


def _box() -> MultiFernet:
    secrets = (settings.SECRET_KEY, *settings.SECRET_KEY_FALLBACKS)
    return MultiFernet([Fernet(_derived(secret)) for secret in secrets])


def _derived(secret: str) -> bytes:
    """A Fernet key that tells nothing of the secret it comes from."""
    kdf = HKDF(algorithm=SHA256(), length=32, salt=None, info=b"blendshop second factor")
    return base64.urlsafe_b64encode(kdf.derive(secret.encode()))
