"""What stands in the way of a batch leaving: readings, guarantees, charges after the reading."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import partial
from typing import Final

from django.utils.translation import gettext, gettext_lazy

from blendshop.figures.readers import reader
from formulas.contracts.assay_checks import allowance_pct
from formulas.engine.composition import WISH_KEYS, content_pct, guarantee_name
from formulas.engine.label.assay_check import Verdict
from formulas.engine.label.printed_figures import PRECISION_PCT
from formulas.engine.plant.as_made import AsMade, GuaranteeAsMade
from formulas.engine.plant.as_made_density import density_at_reference
from formulas.engine.plant.as_made_maxima import MaximumAsMade, MaximumVerdict
from orders.models import Batch, QualityReading
from orders.production.as_made import as_made, promised, promised_most
from orders.production.density_read import counting_reading
from orders.production.steps import batch_steps

NO_READING: Final = gettext_lazy("No density has been read yet.")
CHARGED_SINCE: Final = gettext_lazy("Something was charged after the last reading: read again.")


@dataclass(frozen=True, slots=True)
class Reading:
    """What a person read. ``lab_analysis`` in percent by weight by composition key."""

    density_lb_per_gal: float
    temperature_f: float
    ph: float | None
    appearance: str
    note: str = ""
    lab_analysis: Mapping[str, float] | None = None
    lab_source: str = ""


def at_reference(batch: Batch, reading: Reading) -> tuple[float, float]:
    """The density at the temperature of the plan's window, and that temperature in °F.

    Raises ``BadProblem`` outside the temperatures the published tables cover.
    """
    reference_f = batch.load_plan.density_window.temperature_f
    corrected = density_at_reference(
        reading.density_lb_per_gal,
        reading.temperature_f,
        reference_f=reference_f,
        solutes=batch.load_plan.solutes_pct,
    )
    return corrected, reference_f


def findings(batch: Batch, reading: Reading, density_at_reference_f: float) -> list[str]:
    """One sentence for everything that lies outside the plan's windows; empty when inside."""
    density, ph = batch.load_plan.density_window, batch.load_plan.ph_window
    found = [
        *_outside(
            "Density",
            density_at_reference_f,
            (density.low_lb_per_gal, density.high_lb_per_gal),
            2,
            " lb/gal",
        ),
        *_outside("pH", reading.ph, (ph.low_ph, ph.high_ph), 1, ""),
    ]
    if reading.appearance != QualityReading.Appearance.CLEAR:
        label = QualityReading.Appearance(reading.appearance).label
        found.append(f"Appearance: {label}.")
    return [*found, *_lab_findings(batch, reading.lab_analysis or {})]


def release_hindrances(batch: Batch) -> list[str]:
    """Why only a formulator, with a reason, may release the batch; empty when nothing does."""
    newest = counting_reading(batch)
    if newest is None:
        return [str(NO_READING), *_not_kept(batch)]
    found = list(newest.findings)
    if batch.charges.filter(reversal__isnull=True, at__gt=newest.at).exists():
        found.append(str(CHARGED_SINCE))
    return [*found, *_not_kept(batch)]


def _not_kept(batch: Batch) -> list[str]:
    """Guarantees the charged weights miss, and maxima they exceed.

    The allowance is the inspector's, not the maker's; a maximum has none.
    """
    made: AsMade | None = as_made(batch, batch_steps(batch))
    if made is None:
        return []
    return [
        *(_shortfall(check) for check in made.guarantees if check.verdict is not Verdict.MEETS),
        *(_excess(check) for check in made.maxima if check.verdict is MaximumVerdict.ABOVE),
        *_lines_missed(batch, made),
    ]


def _lines_missed(batch: Batch, made: AsMade) -> Iterator[str]:
    """Lines of the label that were promised beyond what was wished, a form of nitrogen say.

    Not once a lower promise was agreed: the label then follows what was made.
    """
    if batch.lowered_promise is not None:
        return
    told = {check.key for check in made.guarantees if check.verdict is not Verdict.MEETS}
    for key, printed in batch.load_plan.printed_pct.items():
        held = content_pct(made.analysis, key)
        if key in WISH_KEYS and key not in told and held < float(printed) - PRECISION_PCT:
            yield (
                gettext("%(key)s as made is %(held)s %%, the label prints %(printed)s %%.")
                % {
                    "key": guarantee_name(key),
                    "held": reader().significant(held, 4),
                    "printed": reader().every_digit(printed),
                }
            )


def _excess(check: MaximumAsMade) -> str:
    return gettext(
        "%(key)s as made is %(made_pct)s %%, at most %(most_pct)s %%: above its maximum."
    ) % {
        "key": guarantee_name(check.key),
        "made_pct": reader().significant(check.made_pct, 4),
        "most_pct": reader().significant(check.most_pct),
    }


def _shortfall(check: GuaranteeAsMade) -> str:
    says = (
        gettext(
            "%(key)s as made is %(made_pct)s %%, guaranteed %(guaranteed_pct)s %%:"
            " below, though within the allowance."
        )
        if check.verdict is Verdict.WITHIN_ALLOWANCE
        else gettext(
            "%(key)s as made is %(made_pct)s %%, guaranteed %(guaranteed_pct)s %%:"
            " more below than the allowance."
        )
    )
    return says % {
        "key": guarantee_name(check.key),
        "made_pct": reader().significant(check.made_pct, 4),
        "guaranteed_pct": reader().significant(check.guaranteed_pct),
    }


def _outside(
    what: str,
    value: float | None,
    window: tuple[float | None, float | None],
    places: int,
    unit: str,
) -> Iterator[str]:
    low, high = window
    if value is None:
        return
    number = partial(reader().number, places=places)
    if low is not None and value < low:
        yield f"{what} {number(value)}{unit} is below {number(low)}{unit}."
    if high is not None and value > high:
        yield f"{what} {number(value)}{unit} is above {number(high)}{unit}."


def _lab_findings(batch: Batch, lab: Mapping[str, float]) -> Iterator[str]:
    minima, _ = promised(batch)
    for key, least in minima.items():
        if key not in lab:
            continue
        floor = least - (allowance_pct(key, least) or 0.0)
        if lab[key] < floor:
            yield (
                f"{guarantee_name(key)} by the laboratory is {reader().significant(lab[key])} %,"
                f" guaranteed {reader().significant(least)} %: more below than the allowance."
            )
    maxima, _ = promised_most(batch)
    for key, most in maxima.items():
        if key in lab and lab[key] > most:
            yield (
                f"{guarantee_name(key)} by the laboratory is {reader().significant(lab[key])} %,"
                f" at most {reader().significant(most)} %: above its maximum."
            )
