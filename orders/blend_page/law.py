"""The law panel: what the rules where it is sprayed say of the blend on the page."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from django.utils.translation import gettext as _

from formulas.engine.law import at_n_rate
from formulas.engine.wishes import SLOW_RELEASE
from orders.blend_page.legal import Legal, spray_place
from orders.blend_page.wish_form import WishForm
from orders.compliance.check import LawReport, RateBound, SprayPlace, law_report, rate_bound
from orders.compliance.questions import DAY, PLACE, QUESTIONS, circumstances_of


@dataclass(frozen=True, slots=True)
class LawPanel:
    """The report, the largest rate, and what of the law entered the wish; or why nothing is said.

    ``n_rate_lb`` is what the application brings, lb total N per 1000 sq ft.
    """

    place: SprayPlace | None
    n_rate_lb: float | None = None
    report: LawReport | None = None
    bound: RateBound | None = None
    legal: Legal | None = None
    problem: str = ""

    @property
    def rate_is_forbidden(self) -> bool:
        return (
            self.bound is not None
            and self.n_rate_lb is not None
            and self.bound.forbids(self.n_rate_lb)
        )


def law_panel(
    form: WishForm, legal: Legal | None, analysis: Mapping[str, float] | None
) -> LawPanel:
    """``analysis`` is that of the blend, None while there is none."""
    cleaned, place = form.cleaned_data, spray_place(form)
    if place is None:
        return LawPanel(None, legal=legal)
    wrong = [name for name in ("n_rate", *PLACE, DAY, *(q.field for q in QUESTIONS))
             if name in form.errors]  # fmt: skip
    rate = cleaned.get("n_rate")
    if wrong or rate is None:
        return LawPanel(
            place, legal=legal, problem=_("Correct the marked figure to see the check.")
        )
    if analysis is None:
        return LawPanel(place, rate, legal=legal, problem=_("Follows as soon as there is a blend."))
    if not analysis.get("N"):
        return LawPanel(
            place, legal=legal, problem=_("The check goes by nitrogen, and this blend holds none.")
        )
    forms = {key: pct for key, pct in analysis.items() if key != "N"}
    answers, on = circumstances_of(cleaned), cleaned.get(DAY)
    return LawPanel(
        place,
        rate,
        report=law_report(place, at_n_rate(forms, rate, on, answers)),
        bound=rate_bound(
            place,
            forms,
            answers,
            on=on,
            include_unverified=bool(cleaned.get("legal_unverified")),
        ),
        legal=legal,
    )


def law_slips(form: WishForm, legal: Legal) -> Iterator[tuple[str, str]]:
    """Fields whose own wish the law forbids, with the sentence to say there."""
    cleaned = form.cleaned_data
    for limit in legal.limits:
        is_slow = limit.key == SLOW_RELEASE
        low_field, high_field = (
            ("slow_min", "slow_max") if is_slow else (f"{limit.key}_min", f"{limit.key}_max")
        )
        low, high = cleaned.get(low_field), cleaned.get(high_field)
        if limit.max_pct is not None and low is not None and low > limit.max_pct:
            yield (
                low_field,
                _("The law where you spray: at most {pct} %.").format(
                    pct=format(limit.max_pct, "g")
                ),
            )
        if limit.min_pct is not None and high is not None and high < limit.min_pct:
            yield (
                high_field,
                _("The law where you spray: at least {pct} %.").format(
                    pct=format(limit.min_pct, "g")
                ),
            )


def rate_slip(bound: RateBound) -> str:
    """What stands at the N rate when no reading of the law allows it."""
    if not bound.wide_lb:
        return _("No nitrogen of this blend may be sprayed here: see Law below.")
    return _("At most {rate} at a time is legal here: see Law below.").format(rate=bound.wide)
