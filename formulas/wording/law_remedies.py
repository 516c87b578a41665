"""What would fix a finding of the law, in the reader's language and units."""

from __future__ import annotations

import math
from datetime import date

from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from blendshop.figures.readers import reader
from formulas.engine.law.remedies import (
    ApplyAtMost,
    AsTheTextSays,
    KeepFromWater,
    KeepPhosphateDown,
    LessOverTheYear,
    MoreWhenSlow,
    Nutrient,
    OutsideTheDates,
    PrintTheSentence,
    RaiseSlow,
    RaiseSlowOrApplyLess,
    ReadTheRules,
    Remedy,
    WaitDays,
    WaitForGround,
)
from formulas.wording.law_rules import (
    grounds_words,
    rate_at_most_words,
    rate_words,
    reasons_words,
)


def remedy_in_words(remedy: Remedy) -> str:  # noqa: C901 - one case each
    match remedy:
        case ApplyAtMost(lb, of, at_a_time):
            words = (
                _("Apply at most {rate} of {nutrient} at a time.")
                if at_a_time
                else _("Apply at most {rate} of {nutrient}.")
            )
            return words.format(rate=rate_at_most_words(lb), nutrient=_nutrient(of))
        case MoreWhenSlow():
            return _more_when_slow(remedy)
        case AsTheTextSays():
            return _("The law has an exception for enhanced-efficiency products: ask the office.")
        case RaiseSlowOrApplyLess(to_pct, as_counted, lb):
            words = (
                _(
                    "Raise the slow release that the law counts to {share} of total nitrogen,"
                    " or apply at most {rate} of nitrogen."
                )
                if as_counted
                else _(
                    "Raise slow release to {share} of total nitrogen,"
                    " or apply at most {rate} of nitrogen."
                )
            )
            return words.format(share=_share_up(to_pct), rate=rate_at_most_words(lb))
        case RaiseSlow():
            return _raise_slow(remedy)
        case LessOverTheYear(lb, of):
            words = _("Apply {rate} of {nutrient} less over the year.")
            return words.format(rate=rate_words(lb), nutrient=_nutrient(of))
        case KeepPhosphateDown():
            return _keep_phosphate_down(remedy)
        case OutsideTheDates(lb) if lb:
            words = _("Apply outside these dates, or at most {rate} of nitrogen.")
            return words.format(rate=rate_at_most_words(lb))
        case OutsideTheDates():
            return _("Apply outside these dates.")
        case WaitForGround(met):
            return _("Wait: {grounds}.").format(grounds=grounds_words(met))
        case KeepFromWater(feet, or_targeted):
            words = (
                _("Keep {distance} from water, or use a targeted spray.")
                if or_targeted
                else _("Keep {distance} from water.")
            )
            return words.format(distance=reader().distance_up(feet))
        case WaitDays(days):
            left = math.ceil(days)
            words = ngettext("Wait {days} more day.", "Wait {days} more days.", left)
            return words.format(days=reader().number(left, 0))
        case PrintTheSentence():
            return _("The label must print the sentence word for word.")
        case ReadTheRules():
            return _("Read the state's and the locality's own rules before spraying.")


def _more_when_slow(remedy: MoreWhenSlow) -> str:
    words = _("Up to {rate} from {share} slow release on, all year.")
    if remedy.months:
        words = _("Up to {rate} from {share} slow release on, in {months}.")
    return words.format(
        rate=rate_at_most_words(remedy.largest_lb),
        share=_share_up(remedy.from_slow_pct),
        months=", ".join(date_format(date(2001, month, 1), "F") for month in sorted(remedy.months)),
    )


def _raise_slow(remedy: RaiseSlow) -> str:
    share = _share_up(remedy.to_pct)
    if remedy.insoluble:
        words = _(
            "Raise the slow release that is not water soluble to {share} of total nitrogen, or ask"
            " the state how it counts water-soluble slow nitrogen."
        )
    else:
        words = _("Raise slow release to {share} of total nitrogen.")
    said = words.format(share=share)
    if remedy.or_at_most_lb is None:
        return said
    less = (
        _("Or apply at most {rate} of nitrogen (professionals only).")
        if remedy.professionals_only
        else _("Or apply at most {rate} of nitrogen.")
    )
    return f"{said} {less.format(rate=rate_at_most_words(remedy.or_at_most_lb))}"


def _keep_phosphate_down(remedy: KeepPhosphateDown) -> str:
    reasons = reasons_words(remedy.or_reasons_of) if remedy.or_reasons_of else []
    if remedy.to_pct and reasons:
        words = _("Keep P2O5 at {share} or less, or show one of these: {reasons}.")
    elif remedy.to_pct:
        words = _("Keep P2O5 at {share} or less.")
    elif reasons:
        words = _("Leave phosphate out, or show one of these: {reasons}.")
    else:
        words = _("Leave phosphate out.")
    share = reader().percent(remedy.to_pct, 2)
    return words.format(share=share, reasons=", ".join(reasons))


def _share_up(pct: float) -> str:
    """To a tenth of a percent, never below what is asked."""
    return reader().percent(math.ceil(round(pct * 10, 6)) / 10, 1)


def _nutrient(of: Nutrient) -> str:
    return _("nitrogen") if of is Nutrient.N else _("phosphate")
