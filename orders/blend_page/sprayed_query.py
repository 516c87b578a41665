"""How it is sprayed, for the sheet of a quote to a caller who is no customer yet."""

from __future__ import annotations

from collections.abc import Mapping

from orders.blend_page import fields as f
from orders.quoting.sprayed_form import PREFIX


def sprayed_query(typed: Mapping[str, str]) -> dict[str, str]:
    """What the page holds or its link says; nothing once a customer is chosen, who has a habit."""
    if typed.get("company"):
        return {}
    said = {name: typed.get(name) or f.DEFAULTS.get(name, "") for name in f.SPRAYED}
    return {f"{PREFIX}-{name.removeprefix('law_')}": text for name, text in said.items() if text}
