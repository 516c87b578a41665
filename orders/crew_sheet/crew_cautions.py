"""What a crew has to know before it sprays, in the words of label and spray sheet.

Sentences of the label are kept with the sheet in the words of the house, and each is translated as
it is; figures that a sentence of the spray sheet would carry are left to the office.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from django.utils.translation import get_language, gettext_noop
from django.utils.translation import gettext as _

from blendshop.figures.readers import reader
from blendshop.languages.choice import house_choice
from formulas.answers.answer import Notice
from formulas.engine.field.spray_cautions import HOT_F
from formulas.engine.result import Severity
from formulas.engine.units import celsius
from orders.models import CrewSheet, SafetySheet
from orders.papers.wording import DEFERENCE
from orders.quoting.customer_cautions import blend_cautions

#: Sentences of the spray sheet without a figure of the blend; the label has words of its own for
#: iron, phosphate, hard surfaces, waters and local rules.
SAID_AS_THEY_ARE: Final = frozenset(
    {
        "salts_watered_in", "alkaline_salt", "undiluted", "low_volume", "rate",
        "readily_available_n", "water_in", "drought",
    }
)  # fmt: skip
#: Those sentences as the engine says them, marked for other languages.
SENTENCES: Final = frozenset(
    {
        gettext_noop(
            "Holds a thiosulfate or ammonium sulfate: leaves may burn unless it is watered in after"
            " spraying."
        ),
        gettext_noop(
            "Made with an alkaline salt, toxic to leaves at low strength unless acid in the blend"
            " has neutralised it: check the pH and try it on a small area."
        ),
        gettext_noop("The spray would be undiluted product. Add water."),
        gettext_noop(
            "Less than 1 gal of spray per 1,000 sq ft is low volume: the risk of burn is higher,"
            " and inhibitors do not lower it."
        ),
        gettext_noop("More than 1 lb N per 1,000 sq ft in one application."),
        gettext_noop(
            "More than 0.7 lb of readily available N per 1,000 sq ft: above the limit of several"
            " states."
        ),
        gettext_noop(
            "Water it in within 24 hours, unless the label of the product says otherwise."
        ),
        gettext_noop("Do not spray turf that is dormant or stressed by drought."),
    }
)


@dataclass(frozen=True, slots=True)
class CrewCaution:
    """``is_stop``: not to be sprayed so."""

    text: str
    is_stop: bool = False


def crew_cautions(sheet: CrewSheet) -> tuple[CrewCaution, ...]:
    """Worst first, each once; in the reader's language."""
    figures = sheet.crew_figures
    found = [
        *_of_spray(figures.spray.cautions),
        *(CrewCaution(text) for text in blend_cautions(sheet.order_line.revision)),
        *(CrewCaution(_(text)) for text in figures.cautions),
        *_of_safety_sheet(sheet),
        CrewCaution(_(DEFERENCE)),
        *(CrewCaution(text) for text in _of_translation()),
    ]
    return tuple(sorted(dict.fromkeys(found), key=lambda caution: not caution.is_stop))


def _of_safety_sheet(sheet: CrewSheet) -> Iterator[CrewCaution]:
    """Nobody handles a product without its sheet; where the plant has put none in, it is asked."""
    if not SafetySheet.objects.filter(blend=sheet.order_line.revision.blend_id).exists():
        yield CrewCaution(
            _(
                "No safety data sheet (SDS) of this product is here yet: ask the plant for it"
                " before use."
            )
        )


def _of_translation() -> Iterator[str]:
    """What is not in the words of the house was read by no person yet."""
    if get_language() != house_choice().code:
        yield _("Translated and not checked by a person yet: the English sheet decides.")


def _of_spray(notices: tuple[Notice, ...]) -> Iterator[CrewCaution]:
    for notice in notices:
        is_stop = notice.severity is Severity.STOP
        if notice.code == "burn":
            yield CrewCaution(_burn(notice.severity), is_stop)
        elif notice.code == "salt_load" and notice.severity is not Severity.INFO:
            yield CrewCaution(
                _("Much salt in the spray: more water or less product, and water it in."), is_stop
            )
        elif notice.code in SAID_AS_THEY_ARE:
            yield CrewCaution(_(notice.message), is_stop)


def _burn(severity: Severity) -> str:
    hot = _("Not above {f} °F ({c} °C): wait for cooler weather.").format(
        f=reader().number(HOT_F, 0), c=reader().number(celsius(HOT_F), 0)
    )
    if severity is Severity.STOP:
        return _("High risk of burn at this rate and water: do not spray it so; ask your office.")
    if severity is Severity.CAUTION:
        return _("Some risk of burn at this rate and water: water it off the leaf.") + " " + hot
    return _("Low risk of burn at this rate and water.") + " " + hot
