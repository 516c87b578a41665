"""From the answers of each subject to its result in the strip; nothing is worked out anew."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Final

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from blendshop.figures.readers import reader
from formulas.answers.answer import Notice
from formulas.engine.result import Severity
from formulas.engine.storage.cold_storage import ColdVerdict
from formulas.jar_tests.storage import StorageCheck
from orders.compliance.check import LawReport
from orders.inventory.cover import StockCover
from orders.verdict.strip import Standing, StripResult, Subject

#: Cautions of the spray sheet that are about leaves; the others stand in the sheet alone.
_BURNS: Final = frozenset(
    {"burn", "salt_load", "salts_watered_in", "alkaline_salt", "heat", "low_volume", "undiluted"}
)


def mix_result(stops: Sequence[str]) -> StripResult | None:
    """``stops`` is why the recipe must not be mixed; without one mixing has no result."""
    if not stops:
        return None
    return StripResult(Subject.MIX, Standing.STOP, _("Must not be mixed: see the warnings."))


def burn_result(
    cautions: Sequence[Notice],
    *,
    n_rate_lb: float | None,
    carrier_gal: float | None,
    missing: str = "",
) -> StripResult:
    """``cautions`` of one application per 1,000 sq ft; ``missing`` is why there is none."""
    if missing or n_rate_lb is None or carrier_gal is None:
        if not missing:
            missing = _("At what N rate?") if n_rate_lb is None else _("In how much water?")
        return StripResult(Subject.BURN, Standing.UNKNOWN, missing)
    severities = {notice.severity for notice in cautions}
    leaf = {notice.severity for notice in cautions if notice.code in _BURNS}
    figures = {"rate": f"{n_rate_lb:g}", "gal": f"{carrier_gal:g}"}
    if Severity.STOP in severities:
        standing = Standing.STOP
        sentence = _("High risk at {rate} lb N in {gal} gal per 1000 sq ft.")
    elif Severity.CAUTION in leaf:
        standing = Standing.CAUTION
        sentence = _("Some risk at {rate} lb N in {gal} gal per 1000 sq ft.")
    else:
        standing = Standing.CLEAR
        sentence = _("Low risk at {rate} lb N in {gal} gal per 1000 sq ft.")
    return StripResult(Subject.BURN, standing, sentence.format(**figures))


def cold_result(check: StorageCheck | None) -> StripResult:
    """The screen for cold; None while nobody said how cold."""
    if check is None:
        return StripResult(Subject.COLD, Standing.UNKNOWN, _("Kept how long, and how cold?"))
    stocks = (stock.verdict for stock in check.cold.neat)
    verdicts = (*stocks, *(salt.verdict for salt in check.cold.salts))
    degrees = reader().number(check.storage_f, 0)
    if ColdVerdict.MAY_SALT_OUT in verdicts:
        standing, sentence = Standing.CAUTION, _("May salt out at {degrees} °F.")
    elif ColdVerdict.NOT_ASSESSED in verdicts:
        standing = Standing.UNKNOWN
        sentence = _("Not all of it is known at {degrees} °F.")
    else:
        standing, sentence = Standing.CLEAR, _("Nothing is known to salt out at {degrees} °F.")
    return StripResult(Subject.COLD, standing, sentence.format(degrees=degrees))


def law_result(
    report: LawReport | None, *, missing: str = "", is_forbidden: bool = False
) -> StripResult:
    """``missing`` is why there is no report; ``is_forbidden`` where no reading allows the rate."""
    if report is None:
        return StripResult(Subject.LAW, Standing.UNKNOWN, missing or _("Where is it sprayed?"))
    place = report.place.words
    if is_forbidden or report.slug == "fails":
        sentence = _("Not legal in {place} as asked.").format(place=place)
        return StripResult(Subject.LAW, Standing.STOP, sentence)
    if report.slug == "likely-fails":
        sentence = _("Likely not legal in {place} (figures unverified).").format(place=place)
        return StripResult(Subject.LAW, Standing.CAUTION, sentence)
    if report.slug == "passes":
        sentence = _("Every rule on file of {place} is kept.").format(place=place)
        return StripResult(Subject.LAW, Standing.CLEAR, sentence)
    rules = len(report.open)
    sentence = ngettext(
        "{place}: {rules} rule not assessed.", "{place}: {rules} rules not assessed.", rules
    )
    if not report.findings:
        sentence = _("No rule is on file for {place}.")
    return StripResult(Subject.LAW, Standing.UNKNOWN, sentence.format(place=place, rules=rules))


def stock_result(cover: Sequence[StockCover] | None, by: date | None) -> StripResult:
    """``cover`` of every stock of the order, None where no lots are kept; ``by`` is when due."""
    if cover is None:
        return StripResult(Subject.STOCK, Standing.UNKNOWN, _("No lots are received yet."))
    short = sorted((each for each in cover if each.short_lb), key=lambda each: -each.short_lb)
    if not short:
        return StripResult(Subject.STOCK, Standing.CLEAR, _("Enough that no order has reserved."))
    worst = short[0]
    figures = {"mass": reader().mass(worst.short_lb, 0), "stock": worst.name}
    if by is None:
        sentence = _("Short {mass} of {stock}")
    else:
        sentence = _("Short {mass} of {stock} by {day}")
        figures["day"] = reader().date(by)
    sentence = sentence.format(**figures)
    if len(short) > 1:
        more = len(short) - 1
        sentence += ngettext(" and {more} stock more", " and {more} stocks more", more).format(
            more=more
        )
    return StripResult(Subject.STOCK, Standing.CAUTION, f"{sentence}.")


def tested_result(check: StorageCheck | None) -> StripResult:
    """Whether a jar like it was tested; a failed jar near it is a caution."""
    if check is None:
        return StripResult(Subject.TESTED, Standing.UNKNOWN, _("Kept how long, and how cold?"))
    jars = check.jars
    if jars.is_tested:
        return StripResult(Subject.TESTED, Standing.CLEAR, _("A jar like it stayed clear."))
    within = [near for near in jars.nearest if near.distance_pct <= jars.radius_pct]
    if not all(near.jar.stayed_clear for near in within):
        sentence = _("A jar near it did not stay clear: test this one first.")
        return StripResult(Subject.TESTED, Standing.CAUTION, sentence)
    sentence = _("No jar vouches for it: test one before the batch.")
    return StripResult(Subject.TESTED, Standing.UNKNOWN, sentence)
