"""What a reorder would be today, before anyone commits to it.

The recipe stays as it was and only its price is today's. Only when the recipe can no longer be
made as it is (a stock is retired or short, a rule now stops it, a corrected assay breaks a
promise) is the wish solved again to the same guarantees, and every change is told.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from django.utils.translation import gettext

from blendshop.accounts.models import Company
from blendshop.errors import BadInput
from blendshop.figures.readers import reader
from formulas.answers.answer import AlternativeAnswer, Answer, BlendFigures, SolvedAnswer
from formulas.answers.wish import Range, Target, Wish
from formulas.blends.reviews import new_cautions, new_stocks
from formulas.contracts.formulation import Formulation, formulate
from formulas.engine.blend.evaluate import evaluate
from formulas.engine.composition import content_pct
from formulas.engine.label.guarantee import propose
from formulas.engine.problem import BadProblem
from formulas.engine.result import Share
from formulas.engine_bridge import Catalogue, load_catalogue
from formulas.models import BlendRevision
from orders.models import Package, ShipTo, Tank
from orders.planning.backlog import WantedBlend
from orders.planning.default_load import tanks_in_use
from orders.planning.due_dates import read_due_dates
from orders.planning.load_promise import load_promise
from orders.pricing import PriceBreakdown, QuotePrice
from orders.quoting.price import price_lines
from orders.quoting.requests import Blendable, PricedRequest, WishedBlend, request_for
from orders.reordering.wording import (
    Earlier,
    analysis_sentences,
    density_sentence,
    price_sentence,
    recipe_sentences,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class WantedLine:
    """A saved revision wanted again; ``earlier`` is the price it is compared with."""

    revision: BlendRevision
    package: Package
    quantity: int
    n_rate_lb_per_1000sqft: float | None = None
    earlier: Earlier | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class OfferedLine:
    """A line as it can be had today. ``wish`` is set when its recipe was solved again.

    ``recipe_changes`` name stocks with their shares, ``analysis_changes`` contents; ``new_stocks``
    and ``new_cautions`` are what the recipe solved again brings that the old one did not have.
    ``density_change`` says that the same recipe fills a gallon with another weight now.
    """

    wanted: WantedLine
    recipe: Mapping[str, float]
    request: PricedRequest
    price: PriceBreakdown
    wish: Wish | None
    reasons: tuple[str, ...]
    recipe_changes: tuple[str, ...]
    analysis_changes: tuple[str, ...]
    new_stocks: tuple[str, ...]
    new_cautions: tuple[str, ...]
    price_change: str
    density_change: str = ""

    @property
    def changes(self) -> tuple[str, ...]:
        """All that changes, for those who may read the recipe."""
        return (*self.recipe_changes, *self.analysis_changes)

    @property
    def newer_revision(self) -> int | None:
        """The number of a newer revision of the blend than the one that is reordered."""
        newest = self.wanted.revision.blend.latest.number
        return newest if newest > self.wanted.revision.number else None


@dataclass(frozen=True, slots=True)
class Instead:
    """What could be had: what is given up, and by which recipe (stocks with their shares)."""

    gives_up: str
    recipe: str

    def __str__(self) -> str:
        if self.gives_up:
            return f"{self.gives_up} ({self.recipe})."
        return gettext("Without it: {recipe}.").format(recipe=self.recipe)


@dataclass(frozen=True, slots=True, kw_only=True)
class LostLine:
    """A line that cannot be had today: why, what is in the way, what could be had instead."""

    wanted: WantedLine
    reasons: tuple[str, ...]
    conflict: tuple[str, ...]
    alternatives: tuple[Instead, ...]

    @property
    def names_shares(self) -> bool:
        """Whether what is in the way may name a stock with a share that was asked of it."""
        wished = self.wanted.revision.wished
        return bool(wished.recipe or wished.stock_limits)


@dataclass(frozen=True, slots=True, kw_only=True)
class Reorder:
    """A whole reorder. ``price`` and ``due_on`` are None as soon as one line is out of reach."""

    company: Company
    ship_to: ShipTo
    source: str
    lines: tuple[OfferedLine, ...]
    lost: tuple[LostLine, ...]
    price: QuotePrice | None
    due_on: date | None = None

    @property
    def digest(self) -> str:
        """Stands for all that is shown: another price, recipe or date has another digest."""
        shown = [
            [
                line.wanted.revision.pk,
                line.wanted.package.pk,
                line.wanted.quantity,
                {code: f"{pct:.4f}" for code, pct in sorted(line.recipe.items())},
                str(line.price.total),
            ]
            for line in self.lines
        ]
        total = "" if self.price is None else str(self.price.total)
        due_on = "" if self.due_on is None else self.due_on.isoformat()
        text = json.dumps([self.company.pk, self.ship_to.pk, shown, total, due_on], sort_keys=True)
        return hashlib.sha256(text.encode()).hexdigest()


@dataclass(frozen=True, slots=True)
class _Ready:
    wanted: WantedLine
    recipe: Mapping[str, float]
    request: PricedRequest
    resolved: Formulation | None
    wish: Wish | None
    reasons: tuple[str, ...]

    @property
    def wanted_blend(self) -> WantedBlend:
        return WantedBlend(self.wanted.package, self.wanted.quantity, self.recipe)


def preview(
    wanted: Sequence[WantedLine], *, company: Company, ship_to: ShipTo, source: str, today: date
) -> Reorder:
    """Look at each line with today's catalogue and price them together.

    BadInput when the customer, its ship-to or a package is no longer in use.
    """
    _require_in_use(wanted, company, ship_to)
    catalogue, tanks = load_catalogue(today), tanks_in_use()
    checked = [_check_line(line, catalogue, tanks) for line in wanted]
    lost = tuple(line for line in checked if isinstance(line, LostLine))
    ready = [line for line in checked if isinstance(line, _Ready)]
    price, due_on = None, None
    offered: Iterable[OfferedLine] = ()
    if ready and not lost:
        requests = [line.request for line in ready]
        price = price_lines(requests, company=company, ship_to=ship_to, today=today)
        due_on = read_due_dates(today).of([line.wanted_blend for line in ready]).due_on
        then = [_at_earlier_density(line) for line in ready]
        before = price
        if then != requests:
            before = price_lines(then, company=company, ship_to=ship_to, today=today)
        offered = map(_offered, ready, price.lines, before.lines)
    return Reorder(
        company=company,
        ship_to=ship_to,
        source=source,
        lines=tuple(offered),
        lost=lost,
        price=price,
        due_on=due_on,
    )


def _require_in_use(wanted: Sequence[WantedLine], company: Company, ship_to: ShipTo) -> None:
    if not company.active:
        raise BadInput(gettext("{company} is not an active customer.").format(company=company))
    if not ship_to.active or ship_to.company_id != company.pk:
        raise BadInput(
            gettext("{ship_to} is no longer a ship-to of {company}; order to another one.").format(
                ship_to=ship_to, company=company
            )
        )
    for line in wanted:
        if not line.package.active:
            raise BadInput(
                gettext(
                    "The {package} is no longer offered. Reorder {blend} from Saved blends "
                    "and choose another package."
                ).format(package=line.package, blend=line.revision.blend)
            )


def _check_line(
    line: WantedLine, catalogue: Catalogue, tanks: tuple[Tank, ...]
) -> _Ready | LostLine:
    recipe = dict(line.revision.lines.values_list("stock__code", "pct"))
    reasons = _reasons_to_change(line.revision, recipe, catalogue)
    if not reasons:
        request = _request(line, line.revision, catalogue, tanks)
        return _weighable(_Ready(line, recipe, request, None, None, ()))
    wish, missing = wish_without(line.revision, catalogue)
    try:
        formulation = formulate(wish.contract_json(), catalogue=catalogue)
    except BadInput as error:
        return LostLine(
            wanted=line,
            reasons=reasons,
            conflict=tuple(error.fields.values()) or (error.message,),
            alternatives=(),
        )
    blend = formulation.blend
    if missing or blend is None:
        return _lost(line, reasons, missing, formulation.answer)
    request = _request(line, WishedBlend(wish, blend), catalogue, tanks)
    after = {share.code: share.pct for share in blend.shares}
    return _weighable(_Ready(line, after, request, formulation, wish, reasons))


def _weighable(ready: _Ready) -> _Ready | LostLine:
    """The line, or why no tank of the plant can weigh it so that it keeps what is promised."""
    try:
        _ = ready.request.load
    except BadInput as error:
        return LostLine(
            wanted=ready.wanted,
            reasons=ready.reasons,
            conflict=(error.message,),
            alternatives=(),
        )
    return ready


def _request(
    line: WantedLine, source: Blendable, catalogue: Catalogue, tanks: tuple[Tank, ...]
) -> PricedRequest:
    return request_for(
        source,
        catalogue=catalogue,
        tanks=tanks,
        package=line.package,
        quantity=line.quantity,
        n_rate=line.n_rate_lb_per_1000sqft,
    )


def _reasons_to_change(
    revision: BlendRevision, recipe: Mapping[str, float], catalogue: Catalogue
) -> tuple[str, ...]:
    """Why the recipe cannot be made as it is; empty when it can."""
    gone = [catalogue.left_out[code] for code in recipe if code in catalogue.left_out]
    if gone:
        return tuple(gone)
    try:
        shares = [Share(code, pct) for code, pct in recipe.items()]
        blend = evaluate(catalogue.stocks, shares, catalogue.rules)
    except BadProblem as error:
        return tuple(field.message for field in error.errors)
    stops = [finding.message for finding in blend.findings if finding.severity == "stop"]
    promised = load_promise(revision)
    figures = reader()
    broken = [
        f"With today's assays the recipe holds"
        f" {figures.number(content_pct(blend.analysis, key), 2)} % {key},"
        f" less than the {figures.significant(least)} % promised."
        for key, least in promised.minima_pct.items()
        if content_pct(blend.analysis, key) < least - 1e-6
    ]
    least_slow = promised.slow_release_min_pct
    if least_slow is not None and (blend.slow_release_pct or 0.0) < least_slow - 1e-6:
        broken.append(
            f"With today's assays {figures.number(blend.slow_release_pct or 0.0, 1)} % of N is slow"
            f" release, less than the {figures.significant(least_slow)} % promised."
        )
    return (*stops, *broken)


def wish_without(revision: BlendRevision, catalogue: Catalogue) -> tuple[Wish, tuple[str, ...]]:
    """The wish of a revision as it can be asked without the stocks that are not to be had.

    A recipe without targets is asked for by what it guaranteed, and "strongest" must be at least
    as strong as it was. The second value names stocks the wish insists on and that are missing.
    """
    wish, gone = revision.wished, catalogue.left_out
    missing = tuple(
        gettext("The wish insists on a stock that is not to be had: {why}").format(
            why=gone[limit.code]
        )
        for limit in wish.stock_limits
        if limit.code in gone and (limit.min_pct or 0) > 0
    )
    limits = tuple(limit for limit in wish.stock_limits if limit.code not in gone)
    still = tuple(share for share in wish.recipe if share.code not in gone)
    wish = replace(wish, stock_limits=limits, recipe=still)
    if wish.strongest is not None:
        as_strong = tuple(
            target
            for target in guaranteed_wish(revision).targets
            if target.nutrient == wish.strongest
            and target.nutrient not in {known.nutrient for known in wish.targets}
        )
        return replace(wish, targets=(*wish.targets, *as_strong)), missing
    if wish.targets:
        return wish, missing
    promised = guaranteed_wish(revision)
    slow = promised.slow_release_pct or wish.slow_release_pct
    return replace(wish, recipe=(), targets=promised.targets, slow_release_pct=slow), missing


def guaranteed_wish(revision: BlendRevision) -> Wish:
    """Targets that hold what a revision's analysis may guarantee on a label."""
    analysis = {key: pct for key, pct in revision.analysis.items() if key != "N"}
    draft = propose(
        analysis,
        kind="specialty",
        sources=(),
        density_lb_per_gal=revision.density_lb_per_gal,
        volume_gal=1.0,
    )
    promised = [(line.key, line.pct) for line in draft.guarantees if line.parent is None]
    promised += [(item.key, item.pct) for item in draft.other_ingredients]
    slow_pct = revision.slow_release_pct
    return Wish(
        targets=tuple(Target(key, min=float(pct)) for key, pct in promised),
        # Down to a tenth of a percent: the share is a promise, its last digits are not.
        slow_release_pct=Range(min=int(slow_pct * 10) / 10) if slow_pct else None,
    )


def _lost(
    line: WantedLine, reasons: tuple[str, ...], missing: tuple[str, ...], answer: Answer
) -> LostLine:
    if isinstance(answer, SolvedAnswer):  # everything else of the wish can be had
        return LostLine(
            wanted=line,
            reasons=reasons,
            conflict=missing,
            alternatives=(Instead("", _recipe_words(answer)),),
        )
    told = answer.out_of_reach
    return LostLine(
        wanted=line,
        reasons=reasons,
        conflict=(*missing, *told.conflict),
        alternatives=tuple(_alternative(item) for item in told.alternatives),
    )


def _alternative(item: AlternativeAnswer) -> Instead:
    gives_up = "; ".join(
        gettext("{wish} becomes {figure}").format(
            wish=part.wish, figure=reader().significant(part.to, 4)
        )
        for part in item.relaxed
    )
    return Instead(gives_up, _recipe_words(item))


def _recipe_words(blend: BlendFigures) -> str:
    return ", ".join(f"{reader().number(line.pct, 1)} % {line.name}" for line in blend.recipe)


def _at_earlier_density(ready: _Ready) -> PricedRequest:
    """The line with the weight per gallon of its earlier price, where only that has moved."""
    earlier, request = ready.wanted.earlier, ready.request
    if earlier is None or not earlier.weighs_differently(ready.recipe, request.density_lb_per_gal):
        return request
    lighter = earlier.lb_per_gal / request.density_lb_per_gal
    loads = request.loads.put_right_by(request.loads.density_correction * lighter)
    return replace(request, density_lb_per_gal=earlier.lb_per_gal, loads=loads)


def _offered(ready: _Ready, price: PriceBreakdown, at_earlier: PriceBreakdown) -> OfferedLine:
    """``at_earlier`` is today's price at the earlier weight per gallon."""
    line, revision = ready.wanted, ready.wanted.revision
    changed: dict[str, tuple[str, ...]] = dict.fromkeys(
        ("recipe_changes", "analysis_changes", "new_stocks", "new_cautions"), ()
    )
    solution = ready.resolved.solution if ready.resolved else None
    if solution is not None:
        before = dict(revision.lines.values_list("stock__code", "pct"))
        answer = solution.answer
        names = {
            **dict(revision.lines.values_list("stock__code", "stock__name")),
            **solution.catalogue.names,
        }
        slow = (revision.slow_release_pct, answer.slow_release_pct)
        changed = {
            "recipe_changes": tuple(recipe_sentences(before, ready.recipe, names)),
            "analysis_changes": tuple(analysis_sentences(revision.analysis, answer.analysis, slow)),
            "new_stocks": new_stocks(revision, answer),
            "new_cautions": new_cautions(revision, answer),
        }
    density_change = ""
    if line.earlier is not None and _at_earlier_density(ready) != ready.request:
        density_change = density_sentence(
            line.earlier, ready.request.density_lb_per_gal, price, at_earlier
        )
    return OfferedLine(
        wanted=line,
        recipe=ready.recipe,
        request=ready.request,
        price=price,
        wish=ready.wish,
        reasons=ready.reasons,
        **changed,
        price_change=price_sentence(line.earlier, price),
        density_change=density_change,
    )
