"""A site without people: whether it is one, and the link that lets somebody be its first.

Whoever finds an empty site must not be able to take it. So the page that makes the first person
asks, outside debug, for a link that only ``manage.py start_plant --page`` writes on the server's
own terminal: signed with the site's secret key, good for two days and only while there is
nobody. It is printed and never logged, since logs are read and kept elsewhere.
"""

from typing import Final

from django.conf import settings
from django.contrib.auth.hashers import UNUSABLE_PASSWORD_PREFIX
from django.core import signing
from django.urls import reverse
from django.utils.http import urlencode

from blendshop.accounts.models import User

LINK_HOURS: Final = 48
PRINTS_LINK: Final = "manage.py start_plant --page"
_SALT: Final = "blendshop.accounts.set_up"
_MEANS: Final = "first person"


def is_nobody_yet() -> bool:
    """Whether there is no person who can, or ever could, sign in.

    Whoever acts for loaded data is inactive and never had a password, and is nobody.
    """
    never = {"is_active": False, "password__startswith": UNUSABLE_PASSWORD_PREFIX}
    return not User.objects.exclude(**never).exists()


def set_up_link() -> str:
    """The whole address of the set-up page with its token."""
    token = signing.dumps(_MEANS, salt=_SALT)
    return f"{settings.SITE_URL}{reverse('set_up')}?{urlencode({'token': token})}"


def may_set_up(token: str) -> bool:
    """Whether the token is one of ours and not too old; in debug nobody needs one."""
    if settings.DEBUG:
        return True
    try:
        found = signing.loads(token, salt=_SALT, max_age=LINK_HOURS * 3600)
    except signing.BadSignature:
        return False
    return bool(found == _MEANS)
