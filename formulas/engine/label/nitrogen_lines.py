"""Total nitrogen and its forms as printed: true, adding up, and losing nothing.

Three things are wanted of the lines: no line exceeds the analysis; the forms add up to the
total (Florida 5E-1.003(1)(b)); a product that holds 24 % prints 24. Forms rounded down to
hundredths lose up to 0.01 each, so the total they still add up to may fall a whole step short of
what is really there. Rounding a form up would break the first, a remainder under another name
would guarantee a form no laboratory finds. What remains is printing the forms finer, which is
allowed (Wis. Adm. Code ATCP 40.10(6)(a)): hundredths where they lose none of the printed total,
otherwise the fewest decimals up to six that lose none. Six is the precision of the analysis
itself, where nothing is lost, so all three always hold.

Thousandths do no better where a recipe holds its total to the last millionth, as the cheapest
one does: every form is then needed whole, and there is no remainder that another form could
carry. Lowering the total instead would print 23.9 on what was sold as 24. So more than three
decimals are printed only where three are impossible, and the draft says what cures it: no form
loses a whole hundredth, so a recipe with 0.01 % more for each form prints hundredths (``sure``),
but for a slow-release claim at the very edge of its 15 %. Plans with a margin do. What the forms
hold above the total is taken from the largest quick form.

The slow-release claim. It is made where slow nitrogen is at least 15 % of the nitrogen really
there, which is no less than the guaranteed total, so it does not come and go with the rounding of
the total. Its figure is in hundredths (finer only where hundredths would fall below the 15 % of
the guarantee that 12 KAR 4:100 asks for), whatever the decimals of the forms: then more slow
nitrogen never claims less.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from formulas.engine.composition import NITROGEN_FORMS, SLOW_FORMS
from formulas.engine.label.grade_rules import GradeRule
from formulas.engine.label.printed_figures import (
    NOISE,
    ONE_PERCENT,
    READ_DECIMALS,
    floored,
    read_form,
)
from formulas.engine.label.printed_figures import step as step_of
from formulas.engine.label.rules import FORM_DECIMALS, SLOW_SHARE_PCT, Kind

_NONE: Final[Mapping[str, int]] = {}


@dataclass(frozen=True, slots=True)
class NitrogenLines:
    """Printed total and forms, and the claimable slow nitrogen (0: none); all in millionths.

    ``held`` is the nitrogen really there, ``short_in_hundredths`` what the forms would have lost
    of the total in hundredths.
    """

    total: int
    forms: Mapping[str, int]
    claim: int
    held: int
    short_in_hundredths: int = 0

    @property
    def decimals(self) -> int:
        """Decimals the printed forms take."""
        wanted = range(FORM_DECIMALS, READ_DECIMALS)
        fits = (d for d in wanted if not any(n % step_of(d) for n in self.forms.values()))
        return next(fits, READ_DECIMALS)

    @property
    def sure(self) -> int:
        """Nitrogen from which on as many forms print this total in hundredths, however shared."""
        return self.total + len(self.forms) * step_of(FORM_DECIMALS)

    @property
    def slow(self) -> int:
        """Slowly available nitrogen in the printed forms."""
        return sum(self.forms.get(form, 0) for form in SLOW_FORMS)


def nitrogen_lines(
    analysis: Mapping[str, float],
    rule: GradeRule,
    kind: Kind,
    most: Mapping[str, int] = _NONE,
) -> NitrogenLines:
    """The printed lines; ``most`` caps ``N`` or its forms, in millionths."""
    held = {form: read_form(analysis.get(form, 0.0)) for form in NITROGEN_FORMS}
    forms = {form: min(n, most.get(form, n)) for form, n in held.items()}
    there = min(sum(forms.values()), most.get("N", 100 * ONE_PERCENT))
    total = floored(there, rule.decimals((there + NOISE) / ONE_PERCENT, kind))
    if total == 0:
        return NitrogenLines(0, {}, 0, sum(held.values()))
    if (noise := total - sum(forms.values())) > 0:
        forms[_largest(forms)] += noise
    slow = sum(forms[form] for form in SLOW_FORMS)
    may_claim = slow > 0 and slow * 100 >= SLOW_SHARE_PCT * sum(forms.values())
    printed = _printed(forms, total, least_slow=_least_slow(total) if may_claim else 0)
    hundredths = sum(_rounded_down(forms, FORM_DECIMALS).values())
    lines = NitrogenLines(total, printed, 0, sum(held.values()), max(0, total - hundredths))
    claim = _claim(lines.slow, total) if may_claim else 0
    return NitrogenLines(total, printed, claim, lines.held, lines.short_in_hundredths)


def _least_slow(total: int) -> int:
    """The least slow nitrogen that may be claimed beside a guaranteed total."""
    return -(-SLOW_SHARE_PCT * total // 100)


def _rounded_down(forms: Mapping[str, int], decimals: int) -> dict[str, int]:
    step = step_of(decimals)
    return {form: n // step * step for form, n in forms.items()}


def _printed(forms: Mapping[str, int], total: int, *, least_slow: int) -> dict[str, int]:
    """Forms in the fewest decimals that lose nothing, adding up to ``total``."""
    printed = dict(forms)
    step = 1
    for decimals in range(FORM_DECIMALS, READ_DECIMALS + 1):
        printed, step = _rounded_down(forms, decimals), step_of(decimals)
        slow = sum(printed[form] for form in SLOW_FORMS)
        if sum(printed.values()) >= total and slow >= least_slow:
            break
    excess = sum(printed.values()) - total
    for form in sorted(printed, key=lambda form: (form in SLOW_FORMS, -printed[form])):
        taken = min(excess, max(0, printed[form] - step))
        printed[form] -= taken
        excess -= taken
    return {form: n for form, n in printed.items() if n > 0}


def _claim(slow: int, total: int) -> int:
    """The claimed figure, 0 if the printed forms do not carry a claim."""
    for decimals in range(FORM_DECIMALS, READ_DECIMALS + 1):
        figure = slow // step_of(decimals) * step_of(decimals)
        if figure >= _least_slow(total):
            return figure
    return 0


def _largest(forms: Mapping[str, int]) -> str:
    """The largest quick form, else the largest: where a millionth weighs least."""
    quick = [form for form in forms if form not in SLOW_FORMS and forms[form] > 0]
    return max(quick or list(forms), key=lambda form: forms[form])


def share_of_guarantee_pct(pct: Decimal, total: Decimal) -> Decimal:
    """A form's percent of the guaranteed total; 7 % of 15 % is 46.67 %, to hundredths."""
    return round(100 * pct / total, 2)
