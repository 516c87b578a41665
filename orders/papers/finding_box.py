"""A finding as papers print it: its severity is a word and a width, not a colour alone."""

from __future__ import annotations

from typing import Final

from django.utils.translation import gettext as _
from reportlab.lib.styles import ParagraphStyle
from reportlab.platypus import Flowable

from blendshop.documents import flowables, styles
from formulas.engine.result import Severity
from formulas.wording.severities import severity_word
from orders.papers.view_models import PaperFinding

_BAR_PT: Final = {Severity.STOP: 6.0, Severity.CAUTION: 3.0, Severity.INFO: 1.0}


def finding_box(finding: PaperFinding, style: ParagraphStyle = styles.BODY) -> Flowable:
    """The finding, with a bar on the left that grows with its severity."""
    severity = finding.severity
    source = _("Source: {source}").format(source=finding.source) if finding.source else ""
    return flowables.remark(
        severity_word(severity).upper(), finding.message, source, _BAR_PT[severity], style
    )
