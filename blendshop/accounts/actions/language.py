"""A person chooses language and units."""

from django.utils.translation import gettext as _

from blendshop.accounts.models import User
from blendshop.errors import BadInput
from blendshop.languages.offered import Language, UnitSystem


def choose(*, acting_user: User, language: str, units: str) -> None:
    """Blank is the company's choice, or else the house's; BadInput for what is not offered."""
    if language not in ("", *Language.values) or units not in ("", *UnitSystem.values):
        raise BadInput(_("Choose one of what is offered."))
    acting_user.language, acting_user.units = language, units
    acting_user.save(update_fields=["language", "units"])
