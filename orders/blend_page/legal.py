""" "Legal where I spray": the law's limits as plain wishes of the question, never silently.

The limits are rounded to the safe side at four decimals, so that a saved wish reads well. Rules
that nobody could read in the law's own text enter only when the person ticks so; otherwise they
are listed as left out.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Final

from django.utils.translation import gettext as _

from formulas.answers.wish import Range
from formulas.engine.law import LegalWishes, WishReason, wishes_for
from formulas.engine.wishes import SLOW_RELEASE, Side
from orders.blend_page.wish_form import WishForm
from orders.blend_page.wish_place import Unit, WishPlace
from orders.blend_page.wording import figure_words, place_words, subject_words
from orders.compliance.check import Cited, SprayPlace, cited, packs_at, place_of
from orders.compliance.questions import DAY, circumstances_of

_DECIMALS: Final = 10_000
_NOISE: Final = 1e-9


@dataclass(frozen=True, slots=True)
class LegalLimit:
    """One limit that entered the wish: ``key`` is a composition key or ``SLOW_RELEASE``."""

    key: str
    min_pct: float | None = None
    max_pct: float | None = None

    @property
    def words(self) -> str:
        unit = Unit.PCT_OF_N if self.key == SLOW_RELEASE else Unit.PCT
        side = Side.MOST if self.min_pct is None else Side.LEAST
        asked = (self.max_pct if self.min_pct is None else self.min_pct) or 0.0
        place = WishPlace(self.key, subject_words(self.key), side, asked, unit)
        return f"{place_words(place)} {figure_words(place, asked, 'g')}"


@dataclass(frozen=True, slots=True)
class Legal:
    """What the law asks of the blend at this place and rate, and what of it was used.

    ``problem`` says why no law could enter, empty if it could.
    """

    place: SprayPlace | None
    limits: tuple[LegalLimit, ...] = ()
    reasons: tuple[Cited, ...] = ()
    open_points: tuple[Cited, ...] = ()
    impossible: tuple[Cited, ...] = ()
    left_out: tuple[Cited, ...] = ()
    notes: tuple[str, ...] = ()
    problem: str = ""

    @property
    def words(self) -> str:
        """The limits in one line, for the answer and for the note of a saved blend."""
        return "; ".join(limit.words for limit in self.limits)


def spray_place(form: WishForm) -> SprayPlace | None:
    """Where it is sprayed: as typed, else the chosen ship-to."""
    cleaned = form.cleaned_data
    return place_of(
        form.options.ship_to(cleaned.get("ship_to") or ""),
        state=cleaned.get("law_state") or "",
        county=cleaned.get("law_county") or "",
        place=cleaned.get("law_place") or "",
    )


def legal_of(form: WishForm) -> Legal | None:
    """The law as wishes; None unless the person ticked it."""
    cleaned = form.cleaned_data
    if not cleaned.get("legal"):
        return None
    place, rate = spray_place(form), cleaned.get("n_rate")
    if place is None:
        return Legal(None, problem=_("Choose a ship-to or name the state: no law has entered yet."))
    if rate is None:
        return Legal(
            place, problem=_("The law goes by the N rate: correct it, no law has entered.")
        )
    chosen = packs_at(place)
    used, everything = (
        wishes_for(
            chosen.packs,
            circumstances_of(cleaned),
            rate,
            n_pct=cleaned.get("N_min"),
            on=cleaned.get(DAY),
            include_unverified=unverified,
        )
        for unverified in (bool(cleaned.get("legal_unverified")), True)
    )
    return Legal(
        place=place,
        limits=tuple(legal_limits(used)),
        reasons=_cited(used.reasons),
        open_points=_cited(used.open_points),
        impossible=_cited(used.impossible),
        left_out=_cited(
            reason
            for reason in (*everything.reasons, *everything.impossible)
            if reason not in used.reasons and reason not in used.impossible
        ),
        notes=chosen.notes,
        problem=""
        if chosen.packs
        else _("No rule pack stands for {state}.").format(state=place.address.state),
    )


def legal_limits(wishes: LegalWishes) -> Iterator[LegalLimit]:
    """The law's wishes as limits of the page, rounded to the safe side."""
    slow = wishes.slow_release
    if slow is not None and slow.min_pct:
        yield LegalLimit(SLOW_RELEASE, min_pct=_up(slow.min_pct))
    for wish in wishes.nutrients:
        yield LegalLimit(
            wish.nutrient,
            None if wish.min_pct is None else _up(wish.min_pct),
            None if wish.max_pct is None else _down(wish.max_pct),
        )


def _up(pct: float) -> float:
    return math.ceil(pct * _DECIMALS - _NOISE) / _DECIMALS


def _down(pct: float) -> float:
    return math.floor(pct * _DECIMALS + _NOISE) / _DECIMALS


def _cited(reasons: Iterable[WishReason]) -> tuple[Cited, ...]:
    return tuple(cited(reason.sentence, reason.rule) for reason in reasons)


def tightened(wish: Range, limit: LegalLimit) -> Range:
    """A range of the wish with the law's limit in it; what is stricter stays."""
    return Range(
        max((x for x in (wish.min, limit.min_pct) if x is not None), default=None),
        min((x for x in (wish.max, limit.max_pct) if x is not None), default=None),
    )
