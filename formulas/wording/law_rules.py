"""What a rule of law asks, in the reader's language, from the rule itself."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from datetime import date
from typing import Final

from django.utils.formats import date_format
from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from blendshop.figures.readers import reader
from formulas.engine.law import LawFinding, Verdict
from formulas.engine.law.rules import (
    Applicator,
    Blackout,
    EstablishmentWait,
    Ground,
    GroundRule,
    LabelSentence,
    NitrogenPerApplication,
    NitrogenPerYear,
    Phosphorus,
    Setback,
    SlowShare,
    SolubleSlow,
    Topic,
)

#: As they are read; the keys are the engine's.
GRASSES: Final[Mapping[str, Promise]] = {
    "bahiagrass": gettext_lazy("bahiagrass"),
    "bermudagrass": gettext_lazy("bermudagrass"),
    "centipedegrass": gettext_lazy("centipedegrass"),
    "st_augustinegrass": gettext_lazy("St. augustinegrass"),
    "zoysiagrass": gettext_lazy("zoysiagrass"),
    "tall_fescue": gettext_lazy("tall fescue"),
    "kentucky_bluegrass": gettext_lazy("kentucky bluegrass"),
    "fine_fescue": gettext_lazy("fine fescue"),
}
_GROUNDS: Final[Mapping[Ground, Promise]] = {
    Ground.FROZEN_OR_SNOW: gettext_lazy("frozen or snow-covered ground"),
    Ground.SATURATED: gettext_lazy("soil saturated with water"),
    Ground.HEAVY_RAIN: gettext_lazy("heavy rain falling or expected"),
    Ground.STORM_WARNING: gettext_lazy("a flood, tropical storm or hurricane watch or warning"),
}
_EARLIER: Final = frozenset({"n_earlier_this_year_lb", "p2o5_earlier_this_year_lb"})


def grass_words(grass: str) -> str:
    return str(GRASSES[grass])


def grounds_words(kinds: Iterable[Ground]) -> str:
    return ", ".join(str(_GROUNDS[kind]) for kind in kinds)


def rate_words(lb: float) -> str:
    """A rate to hundredths of a pound, to thousandths where the third place matters."""
    return reader().rate(lb, _places(lb))


def rate_at_most_words(lb: float) -> str:
    """A rate to go by: what is written is never above it."""
    return reader().rate_down(lb, _places(lb))


def _places(lb: float) -> int:
    return 2 if round(lb, 3) == round(lb, 2) else 3


def reasons_words(rule: Phosphorus) -> list[str]:
    """The reasons that open a phosphorus rule."""
    found = []
    if rule.soil_test and rule.soil_test_years:
        words = ngettext(
            "a soil test at most {years} year old that shows the need",
            "a soil test at most {years} years old that shows the need",
            round(rule.soil_test_years),
        )
        found.append(words.format(years=reader().at_most(rule.soil_test_years, 1)))
    elif rule.soil_test:
        found.append(_("a soil test that shows the need"))
    if rule.new_lawn:
        found.append(_("a new lawn"))
    if rule.repair:
        found.append(_("repair or re-establishment"))
    if rule.trained_golf:
        found.append(_("a golf course with trained staff"))
    return found


def statement(finding: LawFinding) -> str:
    """What the finding's rule asks, where it is no figure against a limit; else nothing."""
    match finding.under:
        case Blackout() as rule:
            return _blackout(rule, finding)
        case GroundRule(forbidden=kinds):
            return _("Not with {grounds}.").format(grounds=grounds_words(kinds))
        case Setback() as rule:
            return _setback(rule)
        case EstablishmentWait(days=days):
            words = ngettext(
                "No nitrogen or phosphate before seeding or sodding, nor for {days} day after.",
                "No nitrogen or phosphate before seeding or sodding, nor for {days} days after.",
                round(days),
            )
            return words.format(days=reader().at_most(days, 1))
        case LabelSentence():
            return _("The label must carry the law's sentence word for word, in English.")
        case Phosphorus() as rule:
            return _phosphorus(rule, finding)
        case NitrogenPerYear(by_grass=by_grass) if by_grass:
            listed = ", ".join(f"{grass_words(name)} {rate_words(lb)}" for name, lb in by_grass)
            return _("The year's limit depends on the grass: {listed}.").format(listed=listed)
        case NitrogenPerApplication(grass=grass):
            listed = ", ".join(grass_words(name) for name in sorted(grass))
            return _("The rate depends on the grass ({listed}).").format(listed=listed)
    if finding.topic is Topic.NO_PACK:
        return _("No rule pack stands for this address; nothing was checked.")
    return ""


def open_points(finding: LawFinding) -> Iterator[str]:
    """Why a finding is not settled, where its figures do not say."""
    rule = finding.under
    if rule is None or finding.verdict is not Verdict.NOT_ASSESSED:
        return
    if _EARLIER & set(finding.asks):
        yield _("What was applied earlier this year is not known.")
    if getattr(rule, "soluble_slow", None) is SolubleSlow.UNSETTLED:
        yield _("The text seen does not settle whether water-soluble slow nitrogen counts.")
    if isinstance(rule, SlowShare) and "professional" in finding.asks:
        return
    if "professional" in finding.asks and rule.basis.applicator is Applicator.PROFESSIONAL:
        yield _("This binds professional applicators: who sprays?")
    elif "professional" in finding.asks:
        yield _("This binds other than professional applicators: who sprays?")


def _blackout(rule: Blackout, finding: LawFinding) -> str:
    what = _nutrients(rule.nutrients)
    first, last = _day(rule.first), _day(rule.last)
    if rule.largest_n_lb > 0:
        words = _("No {what} above {rate} of nitrogen from {first} to {last}, both days included.")
    else:
        words = _("No {what} from {first} to {last}, both days included.")
    rate = rate_words(rule.largest_n_lb)
    said = words.format(what=what, rate=rate, first=first, last=last)
    if finding.verdict is Verdict.FAILS and finding.on is not None:
        falls = _("{day} falls into it.").format(day=date_format(finding.on, _("F j")))
        return f"{said} {falls}"
    return said


def _nutrients(kinds: frozenset[str]) -> str:
    if kinds == {"N", "P2O5"}:
        return _("nitrogen or phosphate")
    return _("nitrogen") if "N" in kinds else _("phosphate")


def _day(day: tuple[int, int]) -> str:
    """29 February is the last day of any February."""
    if day == (2, 29):
        return _("the end of February")
    return date_format(date(2000, *day), _("F j"))


def _setback(rule: Setback) -> str:
    away = reader().distance_up
    words = _("{distance} from water").format(distance=away(rule.feet))
    if rule.targeted_feet is not None:
        targeted = _("{distance} with a targeted liquid spray")
        words += ", " + targeted.format(distance=away(rule.targeted_feet))
    if rule.natural_buffer_feet is not None:
        buffered = _("none behind a natural buffer of {distance}")
        words += "; " + buffered.format(distance=away(rule.natural_buffer_feet))
    return f"{words}."


def _phosphorus(rule: Phosphorus, finding: LawFinding) -> str:
    named = reasons_words(rule)
    if finding.verdict is Verdict.PASSES or not named:
        return ""
    words = _("Phosphate is allowed only for: {reasons}.").format(reasons=", ".join(named))
    if rule.other_exceptions:
        words += " " + _("The text has more exceptions, in English under Source.")
    return words
