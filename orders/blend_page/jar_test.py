"""The published jar-test procedure, in rows."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.translation import gettext as _

from formulas import reference


@dataclass(frozen=True, slots=True)
class JarTest:
    """The procedure with each step's moment in words ("after 2 hours", empty: at once)."""

    title: str
    steps: tuple[tuple[str, str, str], ...]
    caution: str
    source: str


def jar_test_procedure() -> JarTest:
    """The published procedure behind every jar-test warning; steps as moment, text, mark."""
    facts = reference.jar_test()
    return JarTest(
        title=facts.title,
        steps=tuple(
            (_moment(step.wait_hours), step.text, str(step.source.mark)) for step in facts.steps
        ),
        caution=facts.caution,
        source=facts.caution_source.text,
    )


def _moment(wait_hours: float) -> str:
    if not wait_hours:
        return ""
    if wait_hours < 1:
        return _("After {what} minutes:").format(what=format(wait_hours * 60, "g"))
    return _("After {wait_hours} hours:").format(wait_hours=format(wait_hours, "g"))
