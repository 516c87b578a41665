"""How serious a finding is, in a word."""

from collections.abc import Mapping
from typing import Final

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

_WORDS: Final[Mapping[str, str | Promise]] = {
    "stop": _("Stop"),
    "caution": _("Caution"),
    "info": _("Note"),
}


def severity_word(severity: str) -> str:
    """``Caution`` for ``caution``."""
    return str(_WORDS[severity])
