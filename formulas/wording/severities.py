"""How serious a finding is, in a word."""

from collections.abc import Mapping
from typing import Final

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from formulas.engine.result import Severity

_WORDS: Final[Mapping[Severity, str | Promise]] = {
    Severity.STOP: _("Stop"),
    Severity.CAUTION: _("Caution"),
    Severity.INFO: _("Note"),
}


def severity_word(severity: Severity) -> str:
    """``Caution`` for ``Severity.CAUTION``."""
    return str(_WORDS[severity])
