"""The law as wishes for the solver: slow-release share and phosphate enter the blend.

Limits on a rate bound the spray sheet instead (``rate_bound``). What cannot be said as a limit
on the blend is said in words.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from enum import Enum, auto

from formulas.engine.law.application import Circumstances
from formulas.engine.law.check import binds
from formulas.engine.law.figures import percent, percent_up, pounds
from formulas.engine.law.finding import at_most
from formulas.engine.law.nitrogen import total_limit_lb
from formulas.engine.law.phosphorus import opened, rate_limit_lb
from formulas.engine.law.rules import (
    Applicator,
    Basis,
    NitrogenPerApplication,
    Phosphorus,
    RulePack,
    SlowShare,
    SolubleSlow,
    Status,
)
from formulas.engine.problem import NutrientWish, SlowReleaseWish


@dataclass(frozen=True, slots=True)
class WishReason:
    """Why a wish is there, or why a rule could not become one."""

    sentence: str
    rule: Basis


@dataclass(frozen=True, slots=True)
class LegalWishes:
    """Limits that make the blend legal where it is sprayed, in percent.

    ``nutrients`` and ``slow_release`` go into a ``BlendProblem`` beside the user's own wishes;
    ``reasons`` stand behind them. ``open_points`` are rules that no limit on the blend can hold
    or that can be read two ways; ``impossible`` says where no blend makes the rate legal.
    """

    nutrients: tuple[NutrientWish, ...]
    slow_release: SlowReleaseWish | None
    reasons: tuple[WishReason, ...]
    open_points: tuple[WishReason, ...]
    impossible: tuple[WishReason, ...]


@dataclass(frozen=True, slots=True)
class _Spray:
    """The rate a blend is wanted for; ``n_pct`` is its total nitrogen if known."""

    n_rate_lb: float
    n_pct: float | None
    answers: Circumstances
    on: date | None


class _Kind(Enum):
    SLOW = auto()
    INSOLUBLE = auto()
    P2O5 = auto()
    OPEN = auto()
    IMPOSSIBLE = auto()


@dataclass(frozen=True, slots=True)
class _Need:
    """What one rule needs; ``pct`` is of total N for the first two kinds, of the blend for P2O5."""

    kind: _Kind
    reason: WishReason
    pct: float = 0.0


def wishes_for(
    packs: Iterable[RulePack],
    circumstances: Circumstances,
    n_rate_lb_per_1000sqft: float,
    *,
    n_pct: float | None = None,
    on: date | None = None,
    include_unverified: bool = True,
) -> LegalWishes:
    """The limits on a blend that is to be sprayed at this rate of total nitrogen.

    ``n_pct`` (the wanted total nitrogen, percent by weight) lets limits on pounds of phosphate
    and on insoluble nitrogen become limits on content. Unverified rules are kept unless
    ``include_unverified`` is False; their reasons carry the status. An unanswered question is
    answered on the safe side.
    """
    spray = _Spray(n_rate_lb_per_1000sqft, n_pct, circumstances, on)
    needs = [
        need
        for pack in packs
        for rule in pack.rules
        if binds(rule, circumstances) and (include_unverified or rule.basis.status is Status.ACTIVE)
        for need in _needs(rule, spray)
    ]
    return LegalWishes(
        _nutrient_wishes(needs, n_pct),
        _slow_wish(needs),
        *(
            tuple(need.reason for need in needs if need.kind in kinds)
            for kinds in (
                {_Kind.SLOW, _Kind.INSOLUBLE, _Kind.P2O5},
                {_Kind.OPEN},
                {_Kind.IMPOSSIBLE},
            )
        ),
    )


def _slow_wish(needs: list[_Need]) -> SlowReleaseWish | None:
    shares = [need.pct for need in needs if need.kind in {_Kind.SLOW, _Kind.INSOLUBLE}]
    return SlowReleaseWish(min_pct=max(shares)) if shares else None


def _nutrient_wishes(needs: list[_Need], n_pct: float | None) -> tuple[NutrientWish, ...]:
    wishes = []
    phosphate = [need.pct for need in needs if need.kind is _Kind.P2O5]
    if phosphate:
        wishes.append(NutrientWish("P2O5", max_pct=min(phosphate)))
    insoluble = [need.pct for need in needs if need.kind is _Kind.INSOLUBLE]
    if insoluble and n_pct is not None:
        wishes.append(NutrientWish("N.insoluble", min_pct=max(insoluble) * n_pct / 100.0))
    return tuple(wishes)


def _needs(rule: object, spray: _Spray) -> Iterator[_Need]:
    if isinstance(rule, NitrogenPerApplication):
        yield from _rate_needs(rule, spray)
    elif isinstance(rule, SlowShare):
        yield from _share_needs(rule, spray)
    elif isinstance(rule, Phosphorus):
        yield from _phosphate_needs(rule, spray)


def _rate_needs(rule: NitrogenPerApplication, spray: _Spray) -> Iterator[_Need]:
    rate, basis = spray.n_rate_lb, rule.basis
    if rule.grass and spray.answers.grass not in rule.grass:
        if spray.answers.grass is None:
            yield _Need(_Kind.OPEN, WishReason("The rate depends on the grass.", basis))
        return
    shares = (0.0, *sorted(step.from_slow_pct for step in rule.steps))
    enough = [s for s in shares if at_most(rate, total_limit_lb(rule, s, spray.on))]
    if not enough:
        most = max(total_limit_lb(rule, s, spray.on) for s in shares)
        words = f"{pounds(rate)} N is above the {pounds(most)} that any blend may bring at a time."
        yield _Need(_Kind.IMPOSSIBLE, WishReason(words, basis))
        return
    if enough[0] > 0:
        words = f"{pounds(rate)} N at a time asks for {percent(enough[0])} slow release."
        yield from _slow_needs(enough[0], words, rule.soluble_slow, basis, spray)
    limit = rule.largest_readily_available_lb
    if limit is not None and not at_most(rate, limit):
        share = 100.0 * (1.0 - limit / rate)
        words = (
            f"At {pounds(rate)} N, {percent_up(share)} slow release keeps the readily available"
            f" part at {pounds(limit)}."
        )
        yield from _slow_needs(share, words, rule.soluble_slow, basis, spray)


def _share_needs(rule: SlowShare, spray: _Spray) -> Iterator[_Need]:
    rate = spray.n_rate_lb
    if rule.liquid_exempt_total_lb is not None and at_most(rate, rule.liquid_exempt_total_lb):
        return
    free_to_all = rule.exempt_applicator is Applicator.ANYONE
    if (
        rule.exempt_up_to_n_lb is not None
        and at_most(rate, rule.exempt_up_to_n_lb)
        and (free_to_all or spray.answers.professional)
    ):
        return
    words = f"At least {percent(rule.smallest_pct)} of total nitrogen must be slow release."
    if rule.certain_above_n_lb is not None and at_most(rate, rule.certain_above_n_lb):
        words += f" At {pounds(rule.certain_above_n_lb)} N or less the text can be read either way."
        yield _Need(_Kind.OPEN, WishReason(words, rule.basis))
        return
    yield from _slow_needs(rule.smallest_pct, words, rule.soluble_slow, rule.basis, spray)


def _slow_needs(
    share_pct: float, words: str, soluble: SolubleSlow, basis: Basis, spray: _Spray
) -> Iterator[_Need]:
    if soluble is SolubleSlow.DOES_NOT_COUNT:
        yield _Need(_Kind.INSOLUBLE, WishReason(words, basis), share_pct)
        text = "Here only water-insoluble nitrogen counts as slow release."
        if spray.n_pct is None:
            text += " Name the total nitrogen to make this a limit on the blend."
        yield _Need(_Kind.OPEN, WishReason(text, basis))
        return
    yield _Need(_Kind.SLOW, WishReason(words, basis), share_pct)
    if soluble is SolubleSlow.UNSETTLED:
        text = (
            "The text seen does not settle whether water-soluble slow nitrogen counts; if it does"
            f" not, {percent_up(share_pct)} water-insoluble nitrogen is needed."
        )
        yield _Need(_Kind.OPEN, WishReason(text, basis))


def _phosphate_needs(rule: Phosphorus, spray: _Spray) -> Iterator[_Need]:
    free, basis = rule.free_up_to_p2o5_pct, rule.basis
    if rule.needs_reason and opened(rule, spray.answers)[0] is not True:
        words = "No phosphate without a reason that the law names."
        if free > 0:
            words = f"P2O5 above {percent(free)} needs a reason that the law names."
        yield _Need(_Kind.P2O5, WishReason(words, basis), free)
        return
    if rule.largest_p2o5_pct is not None:
        words = f"At most {percent(rule.largest_p2o5_pct)} P2O5 in the product."
        yield _Need(_Kind.P2O5, WishReason(words, basis), rule.largest_p2o5_pct)
    limit = rate_limit_lb(rule, spray.answers)
    if limit is None or spray.n_rate_lb <= 0:
        return
    words = f"At most {pounds(limit)} P2O5 at a time with {pounds(spray.n_rate_lb)} N."
    if spray.n_pct is None:
        words += " Name the total nitrogen to make this a limit on the blend."
        yield _Need(_Kind.OPEN, WishReason(words, basis))
        return
    pct = max(free, limit * spray.n_pct / spray.n_rate_lb)
    yield _Need(_Kind.P2O5, WishReason(words, basis), min(pct, 100.0))
