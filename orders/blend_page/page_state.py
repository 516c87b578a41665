"""All the blend page shows, worked out once: wish, answer, price, spray sheet."""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal
from functools import cached_property
from typing import Any, Final
from urllib.parse import parse_qsl, urlencode

from django.http import QueryDict

from blendshop.errors import BadInput, DomainError
from blendshop.plant_steps import NotSetUp, PlantStep
from blendshop.searched_rows import SEARCH
from formulas.answers.answer import BlendFigures, OutOfReachAnswer, SolvedAnswer
from formulas.answers.promised_grade import promised_grade
from formulas.blends.analysis_rows import AnalysisRow, analysis_rows
from formulas.contracts.formulation import Formulation
from formulas.engine_bridge import require_stocks
from formulas.jar_tests.forms import StorageForm
from formulas.jar_tests.storage import StorageCheck
from orders.blend_page import fields as f
from orders.blend_page.answering import answered
from orders.blend_page.as_stock_allows import AsStockAllows, as_stock_allows
from orders.blend_page.chips import SAID
from orders.blend_page.curve import Curve, price_curve
from orders.blend_page.infeasibility import Alternative, Infeasibility, infeasibility_of
from orders.blend_page.jar_test import JarTest, jar_test_procedure
from orders.blend_page.label import LabelPreview, label_preview
from orders.blend_page.law import LawPanel, law_panel, law_slips, rate_slip
from orders.blend_page.legal import Legal, legal_of
from orders.blend_page.margin import MarginPanel, margin_panel, with_aims
from orders.blend_page.page_wish import PageWish, volume_gal, wish_of
from orders.blend_page.price_asked import PriceAsked, price_asked, undelivered_words
from orders.blend_page.prices import Price, Pricer
from orders.blend_page.quick_entry import ENTERED, LINE, SAY, UNSAY, LineOnPage, line_on_page
from orders.blend_page.release import Release, release_of
from orders.blend_page.spray import Spray, spray_for
from orders.blend_page.strip import page_strip
from orders.blend_page.wish_form import WishForm, blank
from orders.blend_page.wish_prices import WishPrices, wish_prices_of
from orders.blend_page.wording import range_words
from orders.compliance.questions import FIELDS as LAW
from orders.inventory.cover import StockCover, stock_cover
from orders.inventory.on_hand import OnHand, on_hand
from orders.quoting.requests import WishedBlend
from orders.verdict.strip import Strip

#: What a button of the page asks for besides the answer.
ADD: Final = "add"
TAKE: Final = "take"
#: What saving asks besides the wish.
SAVED_BY: Final = ("name", "as", "typed_by", "once", "meant")
#: Names that are the page's own bookkeeping and do not belong into a link to a wish.
_NOT_IN_LINKS: Final = frozenset(
    {
        "csrfmiddlewaretoken",
        ADD,
        TAKE,
        LINE,
        ENTERED,
        SAY,
        UNSAY,
        SAID,
        "more",
        "ship_to_of",
        "part",
        *SAVED_BY,
    }
)


@dataclass(frozen=True, slots=True)
class PricedAlternative:
    """An alternative with its price and what decides beside it."""

    alternative: Alternative
    price: Price
    grade: str
    strip: Strip


@dataclass
class PageState:
    """What there is to show. ``status``: empty, invalid, unclear, failed, solved or out_of_reach.

    Unclear while something said in the line is open. Also unset, while the plant has no stock to
    blend from: ``missing`` is the step to take.
    """

    form: WishForm
    status: str
    link: str
    wish: PageWish | None = None
    formulation: Formulation | None = None
    blend: SolvedAnswer | None = None
    infeasibility: Infeasibility | None = None
    alternatives: tuple[PricedAlternative, ...] = ()
    price: Price | None = None
    spray: Spray | None = None
    law: LawPanel | None = None
    margin: MarginPanel | None = None
    failure: str = ""
    missing: PlantStep | None = None
    on_hand: OnHand | None = None
    line: LineOnPage = field(default_factory=LineOnPage)

    @property
    def price_asked(self) -> PriceAsked | None:
        """How the price stands to the one that was asked for, if one was."""
        return None if self.price is None else price_asked(self.form.typed, self.price)

    @property
    def undelivered(self) -> str:
        """That a price was asked for with a delivery it does not hold yet."""
        return undelivered_words(self.form.typed)

    @property
    def grade(self) -> str:
        """What the blend would be saved and sold as; empty without one."""
        if self.blend is None or self.wish is None:
            return ""
        return promised_grade(self.wish.wish, self.blend.analysis)

    @property
    def slow_pct(self) -> float | None:
        """Slow-release share of total nitrogen; None without a blend or without nitrogen."""
        return self.blend.slow_release_pct if self.blend else None

    @property
    def used_up(self) -> tuple[str, ...]:
        """Stocks of the recipe of which it takes all that there is."""
        if self.on_hand is None or self.blend is None:
            return ()
        return self.on_hand.bounding(self.blend.shares_pct)

    @property
    def asked_slow(self) -> str:
        """What was asked of the slow-release share, to stand beside what was reached."""
        asked = self.wish.wish.slow_release_pct if self.wish else None
        return range_words(asked) if asked else ""

    @property
    def analysis(self) -> tuple[AnalysisRow, ...]:
        """What the blend holds, with what was asked of it in words."""
        if self.blend is None or self.wish is None:
            return ()
        targets = self.wish.wish.targets
        return analysis_rows(
            self.blend, {target.nutrient: range_words(target.range) for target in targets}
        )

    @property
    def may_be_saved(self) -> bool:
        return self.blend is not None and not self.blend.is_stopped

    @property
    def jar_test(self) -> JarTest | None:
        """The procedure, when a warning asks for it."""
        return jar_test_procedure() if self.blend and self.blend.needs_jar_test else None

    @cached_property
    def storage_form(self) -> StorageForm:
        """How long and how cold it is kept."""
        return StorageForm.read(self.form.data)

    @cached_property
    def storage(self) -> StorageCheck | None:
        """Jars and cold; None without a blend or while a figure cannot be read."""
        return None if self.blend is None else self.storage_form.check(self.blend.shares_pct)

    @cached_property
    def cover(self) -> tuple[StockCover, ...] | None:
        """For staff: what the order takes against what is free."""
        return None if self.blend is None else _cover(self.form, self.blend, self.price)

    @cached_property
    def strip(self) -> Strip | None:
        """What decides about the blend beside its price."""
        if self.blend is None:
            return None
        return page_strip(
            self.blend,
            self.form,
            spray=self.spray,
            storage=self.storage,
            law=self.law,
            price=self.price,
            cover=self.cover,
        )

    @property
    def is_short(self) -> bool:
        """Whether what is on hand does not cover a wish that another recipe might meet."""
        if self.form.data["mode"] == f.BY_RECIPE or self.on_hand is not None:
            return False
        return any(row.short_lb for row in self.cover or ())

    def as_stock_allows(self) -> AsStockAllows | None:
        """Asked for by itself, and only where stock is short: it is a solution of its own."""
        if not self.is_short or self.price is None or self.price.breakdown is None:
            return None
        return as_stock_allows(self.form, self.law.legal if self.law else None, self.price)

    def release(self) -> Release | None:
        """Asked for by itself, like the chart."""
        return None if self.formulation is None else release_of(self.formulation, self.form)

    def label(self) -> LabelPreview | None:
        """Asked for by itself, like the chart."""
        if self.formulation is None:
            return None
        return label_preview(self.formulation, self.form, self.price)

    def curve(self) -> Curve | None:
        """Drawn only when asked for: it takes as many solutions as it has points."""
        if self.formulation is None or self.wish is None:
            return None
        return price_curve(self.formulation, self.wish.wish, Pricer(self.form))

    def wish_prices(self) -> WishPrices | None:
        """Asked for with the curve, by those who see costs: each step is a blend of its own."""
        if self.formulation is None or self.wish is None or not self.form.options.sees_cost:
            return None
        return wish_prices_of(self.formulation, self.wish, Pricer(self.form))


def with_applied_alternative(data: QueryDict) -> QueryDict:
    """The data with the wishes of an alternative that is taken."""
    taken = parse_qsl(data.get(TAKE, ""))
    if not taken:
        return data
    changed = data.copy()
    for name, value in taken:
        # Only fields that were sent (or stand on every page) can be changed.
        if name in data or name in {"slow_min", "slow_max"}:
            changed[name] = value
    return changed


def link_to(form: WishForm) -> str:
    """The wish as a query string: whatever differs from what an empty page would hold."""
    untouched = blank(form.options)
    kept = [
        (name, value)
        for name, values in form.typed.lists()
        for value in values
        if name not in _NOT_IN_LINKS
        and not name.endswith(SEARCH)
        and value.strip()
        and untouched.get(name) != value
    ]
    return urlencode(kept)


def state_of(form: WishForm) -> PageState:
    """Work the form out once. Errors of the question land on their fields."""
    line = line_on_page(form.typed, form.options)
    found = _worked_out(form, line)
    found.line = line
    return found


def _worked_out(form: WishForm, line: LineOnPage) -> PageState:
    form.is_valid()
    link = link_to(form)
    try:
        require_stocks(form.options.catalogue)
    except NotSetUp as bare:
        return PageState(form, "unset", link, failure=bare.message, missing=bare.step)
    if _blocking_errors(form):
        return PageState(form, "invalid", link)
    if line.blocks:
        return PageState(form, "unclear", link)
    legal = legal_of(form)
    if legal is not None and _refused_by_law(form, legal):
        return PageState(form, "invalid", link, law=law_panel(form, legal, None))
    tanks = _tanks(form)
    asked = wish_of(form, legal, tanks)
    law = law_panel(form, legal, None)
    if asked.is_empty:
        return PageState(form, "empty", link, asked, law=law)
    try:
        told = answered(form, asked)
    except BadInput as bad:
        for path, message in bad.fields.items():
            form.add_error(asked.field_of(path), message)
        return PageState(form, "invalid", link, asked, law=law)
    except DomainError as error:
        return PageState(form, "failed", link, asked, failure=error.message, law=law)
    formulation = told.formulation
    answer = formulation.answer
    asked = with_aims(told.asked, answer.margin)
    found = PageState(form, answer.status, link, asked, formulation, law=law, on_hand=tanks)
    _fill_in(found, formulation, asked, told.least)
    return found


def _tanks(form: WishForm) -> OnHand | None:
    """What is in the tanks, where staff asked to be limited by it."""
    if not form.cleaned_data.get("on_hand"):
        return None
    package = form.options.package(form.cleaned_data["package"])
    gallons = volume_gal(package, form.cleaned_data)
    return on_hand(form.options.catalogue, gallons, form.options.today)


def _refused_by_law(form: WishForm, legal: Legal) -> bool:
    """Whether a typed wish is against the law, said at its field."""
    if legal.problem:
        form.add_error("legal", legal.problem)
    slips = tuple(law_slips(form, legal))
    for name, message in slips:
        form.add_error(name, message)
    return bool(slips)


def _check_law(found: PageState, answer: SolvedAnswer) -> None:
    """The law of the finished blend; a rate it forbids is refused where the law is to hold."""
    legal = found.law.legal if found.law else None
    found.law = law_panel(found.form, legal, answer.analysis)
    bound = found.law.bound
    if legal is not None and bound is not None and found.law.rate_is_forbidden:
        found.form.add_error("n_rate", rate_slip(bound))


def _fill_in(
    found: PageState, formulation: Formulation, asked: PageWish, least: Decimal | None
) -> None:
    form, sees_cost = found.form, found.form.options.sees_cost
    answer = formulation.answer
    if isinstance(answer, SolvedAnswer):
        _check_law(found, answer)
    # After the law: what it refuses at a field is not priced either.
    pricer = Pricer(form)
    found.margin = margin_panel(answer, pricer.package, sees_cost=sees_cost)
    if isinstance(answer, OutOfReachAnswer):
        instead = [
            WishedBlend(each.request, blend)
            for each, blend in zip(
                answer.out_of_reach.alternatives, formulation.blends, strict=True
            )
        ]
        prices = pricer.price_each(instead)
        found.infeasibility = infeasibility_of(answer, asked, prices, least)
        found.alternatives = tuple(
            PricedAlternative(
                alternative,
                price,
                blend.grade,
                _strip_of(found, formulation, blend, alternative, price),
            )
            for alternative, price, blend in zip(
                found.infeasibility.alternatives, prices, instead, strict=True
            )
        )
    elif formulation.blend is not None:
        found.blend = answer if sees_cost else answer.without_costs()
        found.price = pricer.price(WishedBlend(asked.wish, formulation.blend))
        found.spray = spray_for(
            answer, formulation.blend, formulation.problem.stocks, form, found.price
        )


def _strip_of(
    found: PageState,
    formulation: Formulation,
    wished: WishedBlend,
    alternative: Alternative,
    price: Price,
) -> Strip:
    """What decides about a blend that could be had instead."""
    form, figures = found.form, alternative.blend
    return page_strip(
        figures,
        form,
        spray=spray_for(figures, wished.blend, formulation.problem.stocks, form, price),
        storage=found.storage_form.check(figures.shares_pct),
        law=law_panel(form, found.law.legal if found.law else None, figures.analysis),
        price=price,
        cover=_cover(form, figures, price),
    )


def _cover(
    form: WishForm, blend: BlendFigures, price: Price | None
) -> tuple[StockCover, ...] | None:
    """For staff: what the order takes against what is free; None where no lots are kept."""
    if not form.options.is_staff:
        return None
    priced = price.breakdown if price else None
    if priced is not None:
        wanted = [(line.code, line.name, line.lb) for line in priced.material]
    else:
        wanted = [(row.code, row.name, Decimal(str(row.lb))) for row in blend.recipe]
    return stock_cover(wanted, form.options.today)


def _blocking_errors(form: WishForm) -> dict[str, Any]:
    """Slips that leave no answer: those below the answer count only where the wish needs them."""
    free = {*f.SPRAY, *f.SECTIONS, *LAW, "margin_chance"}
    if form.is_legal:
        free -= {"n_rate", *LAW}
    if form.data.get("margin"):
        free -= {"margin_chance"}
    return {name: errors for name, errors in form.errors.items() if name not in free}
