"""One visit to the blend page, worked out once: question, answer, price, spray sheet."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final
from urllib.parse import parse_qsl, urlencode

from django.http import QueryDict

from blendshop.errors import BadInput, DomainError
from formulas.contracts.formulation import Formulation, formulate
from formulas.engine.result import OutOfReach, Solved
from orders.blend_page import answer as shown
from orders.blend_page import fields as f
from orders.blend_page.curve import Curve, price_curve
from orders.blend_page.label import LabelPreview, label_preview
from orders.blend_page.law import LawPanel, law_panel, law_slips, rate_slip
from orders.blend_page.legal import Legal, legal_of
from orders.blend_page.margin import MarginPanel, margin_panel, with_aims
from orders.blend_page.on_hand import OnHand, on_hand
from orders.blend_page.one_line import read_line
from orders.blend_page.prices import Price, Pricer
from orders.blend_page.question import Question, question_of, volume_gal
from orders.blend_page.release import Release, release_of
from orders.blend_page.spray import Spray, spray_for
from orders.blend_page.wish_form import WishForm, blank
from orders.compliance.questions import FIELDS as LAW

#: What a button of the page asks for besides the answer.
ADD: Final = "add"
TAKE: Final = "take"
LINE: Final = "line"
#: Says what a press of Enter was for.
ENTERED: Final = "entered"
#: Names that are the page's own bookkeeping and do not belong into a link to a wish.
_NOT_IN_LINKS: Final = frozenset(
    {"csrfmiddlewaretoken", ADD, TAKE, LINE, ENTERED, "more", "ship_to_of", "part"}
)


@dataclass(frozen=True, slots=True)
class PricedCard:
    """An alternative with its price."""

    card: shown.Card
    price: Price


@dataclass(slots=True)
class Visit:
    """What there is to show. ``status``: empty, invalid, failed, solved or out_of_reach."""

    form: WishForm
    status: str
    link: str
    question: Question | None = None
    formulation: Formulation | None = None
    blend: shown.Blend | None = None
    why_not: shown.WhyNot | None = None
    cards: tuple[PricedCard, ...] = ()
    price: Price | None = None
    wish_prices: tuple[shown.WishPrice, ...] = ()
    spray: Spray | None = None
    law: LawPanel | None = None
    margin: MarginPanel | None = None
    failure: str = ""
    on_hand: OnHand | None = None

    @property
    def used_up(self) -> tuple[str, ...]:
        """Stocks of the recipe of which it takes all that there is."""
        if self.on_hand is None or self.blend is None:
            return ()
        return self.on_hand.bounding({row.code: row.pct for row in self.blend.recipe})

    @property
    def asked_slow(self) -> str:
        """What was asked of the slow-release share, to stand beside what was reached."""
        wish = self.question.body.get("slow_release_pct") if self.question else None
        return shown.range_words(wish) if wish else ""

    @property
    def may_be_saved(self) -> bool:
        return self.blend is not None and not self.blend.is_stopped

    @property
    def jar_test(self) -> shown.JarTest | None:
        """The procedure, when a warning asks for it."""
        return shown.jar_test() if self.blend and self.blend.needs_jar_test else None

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
        if self.formulation is None or self.status != "solved":
            return None
        return price_curve(self.formulation, Pricer(self.form))


def overtyped(data: QueryDict) -> QueryDict:
    """The data with the wishes of an alternative that is taken."""
    taken = parse_qsl(data.get(TAKE, ""))
    if not taken:
        return data
    changed = data.copy()
    for name, value in taken:
        # Only fields that were sent (or stand on every page) can be overtyped.
        if name in data or name in {"slow_min", "slow_max"}:
            changed[name] = value
    return changed


def said_in_line(data: QueryDict) -> tuple[QueryDict, str]:
    """The data with the wishes said in one line, and in words what was not understood.

    The line is read when it is entered, not while it is typed; what it does not name stays.
    """
    line = data.get(LINE, "").strip()
    if not line or data.get(ENTERED) != LINE:
        return data, ""
    said = read_line(line)
    changed = data.copy()
    for name, value in said.fields.items():
        changed[name] = value
    # Only what was not understood stays: a second Enter must not undo figures typed since.
    changed[LINE] = " ".join(said.unclear)
    return changed, f"Not understood: {', '.join(said.unclear)}." if said.unclear else ""


def link_to(form: WishForm) -> str:
    """The wish as a query string: whatever differs from what an empty page would hold."""
    untouched = blank(form.desk)
    kept = [
        (name, value)
        for name, values in form.typed.lists()
        for value in values
        if name not in _NOT_IN_LINKS and value.strip() and untouched.get(name) != value
    ]
    return urlencode(kept)


def visit(form: WishForm) -> Visit:
    """Work the form out once. Errors of the question land on their fields."""
    form.is_valid()
    link = link_to(form)
    if _blocking_errors(form):
        return Visit(form, "invalid", link)
    legal = legal_of(form)
    if legal is not None and _refused_by_law(form, legal):
        return Visit(form, "invalid", link, law=law_panel(form, legal, None))
    tanks = _tanks(form)
    question = question_of(form, legal, tanks)
    law = law_panel(form, legal, None)
    if question.is_empty:
        return Visit(form, "empty", link, question, law=law)
    try:
        formulation = formulate(question.body, catalogue=form.desk.catalogue)
    except BadInput as bad:
        for path, message in bad.fields.items():
            form.add_error(question.field_of(path), message)
        return Visit(form, "invalid", link, question, law=law)
    except DomainError as error:
        return Visit(form, "failed", link, question, failure=error.message, law=law)
    question = with_aims(question, formulation.answer)
    found = Visit(form, formulation.status, link, question, formulation, law=law, on_hand=tanks)
    _fill_in(found, formulation, question)
    return found


def _tanks(form: WishForm) -> OnHand | None:
    """What is in the tanks, where staff asked to be bounded by it."""
    if not form.cleaned_data.get("on_hand"):
        return None
    package = form.desk.package(form.cleaned_data["package"])
    return on_hand(form.desk, volume_gal(package, form.cleaned_data))


def _refused_by_law(form: WishForm, legal: Legal) -> bool:
    """Whether a typed wish is against the law, said at its field."""
    if legal.problem:
        form.add_error("legal", legal.problem)
    slips = tuple(law_slips(form, legal))
    for name, message in slips:
        form.add_error(name, message)
    return bool(slips)


def _check_law(found: Visit, answer: Mapping[str, Any]) -> None:
    """The law of the finished blend; a rate it forbids is refused where the law is to hold."""
    legal = found.law.legal if found.law else None
    found.law = law_panel(found.form, legal, answer["analysis"])
    bound = found.law.bound
    if legal is not None and bound is not None and found.law.rate_is_forbidden:
        found.form.add_error("n_rate", rate_slip(bound))


def _fill_in(found: Visit, formulation: Formulation, question: Question) -> None:
    form, sees_cost = found.form, found.form.desk.sees_cost
    result, answer = formulation.result, formulation.answer
    if isinstance(result, Solved):
        _check_law(found, answer)
    # After the law: what it refuses at a field is not priced either.
    pricer = Pricer(form)
    found.margin = margin_panel(answer, pricer.package, sees_cost=sees_cost)
    if isinstance(result, Solved):
        asked = shown.asked_in_words(question.body)
        found.blend = shown.blend_of(answer, asked=asked, sees_cost=sees_cost)
        found.price = pricer.price(result.blend)
        found.spray = spray_for(answer, form, found.price)
        if sees_cost:
            found.wish_prices = tuple(shown.wish_prices(formulation, question))
    if isinstance(result, OutOfReach):
        found.why_not = shown.why_not(formulation, question, sees_cost=sees_cost)
        found.cards = tuple(
            PricedCard(card, price)
            for card, price in zip(
                found.why_not.cards,
                pricer.price_each([item.blend for item in result.alternatives]),
                strict=True,
            )
        )


def _blocking_errors(form: WishForm) -> dict[str, Any]:
    """Slips that leave no answer: those below the answer count only where the wish needs them."""
    free = {*f.SPRAY, *f.SECTIONS, *LAW, "margin_chance"}
    if form.is_legal:
        free -= {"n_rate", *LAW}
    if form.data.get("margin"):
        free -= {"margin_chance"}
    return {name: errors for name, errors in form.errors.items() if name not in free}
