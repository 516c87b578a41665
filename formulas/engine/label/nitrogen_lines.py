"""Total nitrogen and its forms as printed: true, adding up, at most two decimals.

Three things always hold: no line exceeds the analysis; the forms add up to the total (Florida
5E-1.003(1)(b)); no line has more than two decimals. Each form prints its content rounded down to
hundredths. The total is what these floors carry, in the decimals of the state's grade rule, at
most what was wished of it: a product sold as 24 prints 24, not the 24.2 it was given so that it
holds. What the forms hold above the total is taken from the largest quick form.

Floors lose up to 0.01 for each form, so a recipe that holds its total to the last millionth, as
the cheapest one does, prints a step less (24 / 7 of urea and twice and four times that of the
others carry 23.98, so 23.9). Rounding a form up would not be true, a remainder under another name
would guarantee a form no laboratory finds. The draft says how much more nitrogen would print the
higher figure (``hints``), and a plan of a tank load raises its nitrogen by that.

The slow-release claim. It repeats the figure of the printed line; where two slow forms are
printed, their sum. It is made where they are at least 15 % of the nitrogen the forms carry, which
is no less than the guaranteed total, so the claim does not come and go with the rounding of the
total and more slow nitrogen never claims less; of a wished total where that is less.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from formulas.engine.composition import NITROGEN_FORMS, SLOW_FORMS
from formulas.engine.label.grade_rules import GradeRule
from formulas.engine.label.printed_figures import NOISE, ONE_PERCENT, floored, read, read_form
from formulas.engine.label.printed_figures import step as step_of
from formulas.engine.label.rules import FORM_DECIMALS, SLOW_SHARE_PCT, Kind

_NO_CAPS: Final[Mapping[str, int]] = {}
_NO_WISH: Final[Mapping[str, float]] = {}
_ALL: Final = 100 * ONE_PERCENT
_LAST_DIGIT: Final = step_of(FORM_DECIMALS)


@dataclass(frozen=True, slots=True)
class NitrogenLines:
    """Printed total and forms, and the claimable slow nitrogen (0: none); all in millionths.

    ``held`` is the nitrogen really there, ``carried`` the sum of the forms rounded down, and
    ``within_reach`` the total that ``held`` would print if the forms carried it.
    """

    total: int
    forms: Mapping[str, int]
    claim: int
    held: int
    carried: int
    within_reach: int

    @property
    def short(self) -> int:
        """What one form needs more, so that the total within reach is printed; 0: it is."""
        return self.within_reach - self.carried if self.within_reach > self.total else 0

    @property
    def slow(self) -> int:
        """Slowly available nitrogen in the printed forms."""
        return _slow(self.forms)


def nitrogen_lines(
    analysis: Mapping[str, float],
    rule: GradeRule,
    kind: Kind,
    most: Mapping[str, int] = _NO_CAPS,
    promised: Mapping[str, float] = _NO_WISH,
) -> NitrogenLines:
    """The printed lines.

    ``most`` caps what may be printed of ``N`` and of its forms, in millionths; ``promised`` are
    wished minima in percent: the total prints the one of ``N``, and a form gives up what is above
    its own first.
    """
    held = {form: read_form(analysis.get(form, 0.0)) for form in NITROGEN_FORMS}
    floors = {form: _floor(min(n, most.get(form, n))) for form, n in held.items()}
    carried = sum(floors.values())
    wish = read(promised.get("N", 0.0)) or _ALL
    limit = min(wish, most.get("N", _ALL))
    total = grade_figure(min(carried, limit), rule, kind)
    within_reach = grade_figure(min(sum(held.values()), limit), rule, kind)
    forms = _adding_up(floors, carried - total, promised) if total > 0 else {}
    slow = _slow(forms)
    may_claim = slow * 100 >= SLOW_SHARE_PCT * min(carried, wish)
    return NitrogenLines(
        total, forms, slow if may_claim else 0, sum(held.values()), carried, within_reach
    )


def grade_figure(millionths: int, rule: GradeRule, kind: Kind) -> int:
    """A primary nutrient rounded down to the decimals of the state's rule."""
    return floored(millionths, rule.decimals((millionths + NOISE) / ONE_PERCENT, kind))


def _floor(millionths: int) -> int:
    return millionths // _LAST_DIGIT * _LAST_DIGIT


def _adding_up(
    floors: Mapping[str, int], excess: int, promised: Mapping[str, float]
) -> dict[str, int]:
    """The forms less ``excess``: the largest quick form gives first, its own promise last.

    A form that is there keeps a hundredth.
    """
    printed = dict(floors)
    order = sorted(printed, key=lambda form: (form in SLOW_FORMS, -printed[form]))
    quick = [form for form in order if form not in SLOW_FORMS]
    least = {form: max(_LAST_DIGIT, _floor(read(promised.get(form, 0.0)))) for form in order}
    for form, kept in (
        *((form, least[form]) for form in quick),
        *((form, _LAST_DIGIT) for form in order),
    ):
        taken = min(excess, max(0, printed[form] - kept))
        printed[form] -= taken
        excess -= taken
    return {form: n for form, n in printed.items() if n > 0}


def _slow(forms: Mapping[str, int]) -> int:
    return sum(forms.get(form, 0) for form in SLOW_FORMS)


def share_of_guarantee_pct(pct: Decimal, total: Decimal) -> Decimal:
    """A form's percent of the guaranteed total; 7 % of 15 % is 46.67 %, to hundredths."""
    return round(100 * pct / total, 2)
