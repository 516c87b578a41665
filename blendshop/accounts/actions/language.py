"""A person chooses language and units."""

from blendshop.accounts.models import User
from blendshop.saving import save_valid


def choose(*, acting_user: User, language: str, units: str) -> None:
    """Blank is the company's choice, or else the house's; BadInput for what is not offered."""
    acting_user.language, acting_user.units = language, units
    save_valid(acting_user, acting_user, update_fields=["language", "units"])
