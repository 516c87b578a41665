"""A person's own phone number, which stands on the quotes of that person."""

import re
from typing import Final

from django.utils.translation import gettext as _

from blendshop.accounts.models import User
from blendshop.errors import BadInput
from blendshop.roles import Role, require_role

#: Whose name, phone and mail address stand on quotes.
ON_QUOTES: Final = (Role.REP, Role.OFFICE)
_PHONE: Final = re.compile(r"\+?[0-9][0-9 ().\-/]{2,30}(?: ?(?:x|ext\.?) ?[0-9]{1,6})?", re.ASCII)


def set_own_phone(*, acting_user: User, phone: str) -> None:
    """Empty takes it off; quotes that went out keep the one they had."""
    require_role(acting_user, *ON_QUOTES)
    typed = " ".join(phone.split())
    if typed and not _PHONE.fullmatch(typed):
        message = _("Type it as it is dialled, such as 555-0100 or +1 555 0100 ext. 2.")
        raise BadInput(message, fields={"phone": message})
    acting_user.phone = typed
    acting_user.save(update_fields=["phone"])
