"""Readers of environment variables: each gives a value that can be used, or says what is wrong.

What is wrong is kept until ``refuse_what_is_wrong`` tells all of it at once, by the variable's name
and never with its value, which may be a password.
"""

import math
import zlib
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from email.utils import parseaddr
from pathlib import Path
from typing import Any, Final, cast
from urllib.parse import SplitResult, urlsplit
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from django.core.exceptions import ImproperlyConfigured
from django.core.exceptions import ValidationError as DjangoValidationError
from django.core.mail.backends.base import BaseEmailBackend
from django.core.validators import validate_domain_name, validate_email, validate_ipv46_address
from django.utils.module_loading import import_string
from environs import Env, EnvValidationError, ValidationError

from blendshop.database_address import database
from blendshop.media_storage import media_storage
from blendshop.money import CURRENCIES

_SECRET_CHARACTERS: Final = 50
_SECRET_BITS: Final = 200
_LEAST_TOKEN: Final = 24
#: They take a mail and send it nowhere.
_LOSES_MAIL: Final = (
    "django.core.mail.backends.dummy.EmailBackend",
    "django.core.mail.backends.locmem.EmailBackend",
)


class UnusableSettings(ImproperlyConfigured):
    """Everything that is wrong with the environment, one line a variable."""


def _bits(text: str) -> float:
    """How hard a text is to guess at most: by its characters' shares, and by what repeats."""
    shares = [count / len(text) for count in Counter(text).values()]
    by_character = -sum(share * math.log2(share) for share in shares) * len(text)
    return min(by_character, 8.0 * (len(zlib.compress(text.encode(), 9)) - 8))


def secret_key(value: str, *, debug: bool) -> str:
    if not debug and (len(value) < _SECRET_CHARACTERS or _bits(value) < _SECRET_BITS):
        raise ValidationError(
            f"Can be guessed. Use at least {_SECRET_CHARACTERS} random characters, as "
            'python3 -c "import secrets; print(secrets.token_urlsafe(60))" makes them.'
        )
    return value


def token(value: str) -> str:
    """A password for machines; empty closes what it opens."""
    if value and (len(value) < _LEAST_TOKEN or _bits(value) < _LEAST_TOKEN * 2):
        raise ValidationError(f"Can be guessed. Use at least {_LEAST_TOKEN} random characters.")
    return value


def _is_host(name: str) -> bool:
    for valid in (validate_domain_name, validate_ipv46_address):
        try:
            valid(name)
        except DjangoValidationError:
            continue
        return True
    return name == "localhost"


def host_names(value: str | Sequence[str], *, debug: bool) -> list[str]:
    names = _comma_separated(value)
    if not names:
        raise ValidationError("Name at least one host, like shop.example.")
    if debug:
        return names
    if "*" in names:
        raise ValidationError(
            "* would answer under any name. List the host names, comma separated."
        )
    for name in names:
        if not _is_host(name.removeprefix(".").strip("[]")):
            raise ValidationError(
                f"{name} is not a host name: write it without https://, port and path."
            )
    return names


def origins(value: str | Sequence[str], *, debug: bool) -> list[str]:
    return [_site(origin, debug=debug) for origin in _comma_separated(value)]


def site_url(value: str, *, debug: bool) -> str:
    return _site(value, debug=debug)


def _split(value: str) -> SplitResult:
    """An address in parts, its port looked at too."""
    try:
        parts = urlsplit(value)
        _ = parts.port
    except ValueError:
        raise ValidationError("Is not an address: look at brackets and port.") from None
    return parts


def _site(value: str, *, debug: bool) -> str:
    parts = _split(value.rstrip("/"))
    schemes = ("https", "http") if debug else ("https",)
    if parts.scheme not in schemes:
        raise ValidationError(f"Must begin with {' or '.join(f'{each}://' for each in schemes)}.")
    if not parts.hostname or parts.path or parts.query or parts.fragment or parts.username:
        raise ValidationError("Must be scheme and host only, like https://shop.example.")
    return value.rstrip("/")


def _comma_separated(value: str | Sequence[str]) -> list[str]:
    given = value.split(",") if isinstance(value, str) else value
    return [name.strip() for name in given if name.strip()]


def currency(value: str) -> str:
    if value not in CURRENCIES:
        raise ValidationError(
            "Is not an ISO 4217 code of a currency with cents (prices are kept in hundredths), "
            "like USD, CAD or EUR."
        )
    return value


def time_zone(value: str) -> str:
    try:
        ZoneInfo(value)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise ValidationError(
            "Is not a time zone of the IANA list, like America/Chicago."
        ) from None
    return value


def mail_backend(value: str, *, debug: bool) -> str:
    try:
        backend = import_string(value)
    except ImportError:
        backend = None
    if not (isinstance(backend, type) and issubclass(backend, BaseEmailBackend)):
        raise ValidationError(
            "Is not a mail backend, like django.core.mail.backends.smtp.EmailBackend."
        )
    if value in _LOSES_MAIL and not debug:
        raise ValidationError("Loses every mail. Take django.core.mail.backends.smtp.EmailBackend.")
    return value


def mail_address(value: str) -> str:
    try:
        validate_email(parseaddr(value)[1])
    except DjangoValidationError:
        raise ValidationError("Is not a mail address.") from None
    return value


def mail_addresses(value: str | Sequence[str]) -> list[str]:
    return [mail_address(each) for each in _comma_separated(value)]


def cache(value: str) -> dict[str, Any]:
    """``database`` or the address of a Redis server as Django's cache setting."""
    if value == "database":
        return {
            "BACKEND": "blendshop.shared_cache.SharedTableCache",
            "LOCATION": "blendshop_cache",
        }
    parts = _split(value)
    if parts.scheme not in ("redis", "rediss") or not parts.hostname:
        raise ValidationError("Must be database, or an address like redis://host:6379/0.")
    return {
        "BACKEND": "django.core.cache.backends.redis.RedisCache",
        "LOCATION": value,
        "KEY_PREFIX": "blendshop",
        "OPTIONS": {"socket_connect_timeout": 2, "socket_timeout": 2},
    }


def folder(value: str) -> str:
    """A folder that is there; empty for none."""
    if value and not Path(value).is_dir():
        raise ValidationError("There is no folder of this name; make it before the start.")
    return value


_READERS: Final[Mapping[str, Callable[..., Any]]] = {
    reader.__name__: reader
    for reader in (
        secret_key, token, host_names, origins, site_url, currency, time_zone, mail_backend,
        mail_address, mail_addresses, cache, folder, database, media_storage,
    )
}  # fmt: skip


def environment() -> Env:
    """The variables of this process, with the readers above beside the library's own."""
    env = Env(eager=False)
    for name, reader in _READERS.items():
        env.add_parser(name, reader)
    return env


def refuse_what_is_wrong(env: Env) -> None:
    """Raise ``UnusableSettings`` if anything read from ``env`` was wrong; nothing is read after."""
    try:
        env.seal()
    except EnvValidationError as error:
        wrong = cast("Mapping[str, Sequence[str]]", error.error_messages)
        lines = [
            f"  {name}: {sentence}" for name, sentences in wrong.items() for sentence in sentences
        ]
        told = "\n".join(lines)
        raise UnusableSettings(
            f"Blendshop does not start with these settings (README has the table):\n{told}"
        ) from None
