"""A quote in words: what page, PDF and mail print of it, each figure written once.

All three read ``QuoteWords``, so that none of them rounds or names anything by itself.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from django.utils.translation import get_language, ngettext
from django.utils.translation import gettext as _

from blendshop.figures.units import US
from blendshop.figures.writing import Figures
from blendshop.money import money
from formulas.answers.promised_grade import product_name
from formulas.engine.composition import SHORT_NAMES
from formulas.wording.contents import content_word
from orders.quoting.view_models import Freight, QuoteCharge, QuoteChoice, QuoteLine, QuoteView
from orders.records.plant_words import package_words, payment_words

#: Lines that are named before the table of all; more are counted.
MOST_NAMED: Final = 4


@dataclass(frozen=True, slots=True)
class Fact:
    """A label and what is said of it."""

    label: str
    text: str


@dataclass(frozen=True, slots=True)
class LineWords:
    """One blend. ``per_volume`` is the price of a gallon or a litre, ``prices`` those of other
    units, ``includes`` what of ``total`` may stand on its own.
    """

    number: int
    title: str
    reference: str
    packed: str
    amount: str
    contents: str
    per_volume: Fact
    per_package: str
    prices: tuple[Fact, ...]
    includes: tuple[Fact, ...]
    total: str
    cautions: tuple[str, ...]
    weighed: str
    stops: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ChoiceWords:
    """One of those of which the customer takes one: its lines, whose ``sums`` make ``total``."""

    name: str
    lines: tuple[LineWords, ...]
    sums: tuple[Fact, ...]
    total: str


@dataclass(frozen=True, slots=True)
class QuoteWords:
    """``facts`` say first what is offered; ``sums`` add up to ``total``.

    With ``choices`` each has its own sums, and ``total`` is the lowest. ``issued_in`` says that the
    paper is in another language than the reader's.
    """

    number: str
    plant: str
    customer: str
    total: str
    facts: tuple[Fact, ...]
    contact: str
    lines: tuple[LineWords, ...]
    sums: tuple[Fact, ...]
    what: tuple[str, ...]
    cautions: tuple[str, ...]
    notes: str
    terms: tuple[str, ...]
    valid_until: str
    due_on: str
    payment: str
    choices: tuple[ChoiceWords, ...]
    issued_in: str


def quote_words(view: QuoteView, figures: Figures) -> QuoteWords:
    """The quote as ``figures`` write it, in the language that is being written.

    Who reads another language than the paper's is told what was kept beside it in that.
    """
    language = (get_language() or "").partition("-")[0]
    issued_in = _issued_in(view, language)
    view = view.read_in(language)
    lines = tuple(
        _line(number, line, view, figures) for number, line in enumerate(view.lines, start=1)
    )
    total = figures.money(view.total, view.currency)
    choices = tuple(_choice(choice, lines, view, figures) for choice in view.choices)
    what = tuple(choice.name for choice in choices) or tuple(_what(lines))
    return QuoteWords(
        number=view.number,
        plant=view.plant.name,
        customer=view.customer.name,
        total=total,
        facts=tuple(_facts(view, what, tuple(_price(view, lines, choices, figures)), figures)),
        contact=_contact(view),
        lines=lines,
        sums=tuple(_sums(view.goods_total, view.charges, view.currency, figures)),
        what=what,
        cautions=tuple(dict.fromkeys(each.message for each in view.cautions)),
        notes=view.notes,
        terms=view.terms,
        valid_until=figures.date(view.valid_until),
        due_on="" if view.due_on is None else figures.date(view.due_on),
        payment=payment_words(view.payment),
        choices=choices,
        issued_in=issued_in,
    )


def _issued_in(view: QuoteView, language: str) -> str:
    """Said to who reads Spanish where the paper is in English."""
    if language != "es" or view.language == language:
        return ""
    if view.in_spanish is not None:
        return _("The quote was issued in English, and so is its PDF; this page says the same.")
    return _(
        "The quote was issued in English; what was written for it then stands here in English."
    )


def _choice(
    choice: QuoteChoice, lines: tuple[LineWords, ...], view: QuoteView, figures: Figures
) -> ChoiceWords:
    return ChoiceWords(
        name=choice.name,
        lines=tuple(lines[number - 1] for number in choice.lines),
        sums=tuple(_sums(view.goods_of(choice), choice.deposits, view.currency, figures)),
        total=figures.money(choice.total, view.currency),
    )


def _what(lines: tuple[LineWords, ...]) -> Iterator[str]:
    for line in lines[:MOST_NAMED]:
        yield _("{packed} of {blend}").format(packed=line.packed, blend=line.title)
    if more := len(lines[MOST_NAMED:]):
        yield ngettext("and {more} more line", "and {more} more lines", more).format(more=more)


def _facts(
    view: QuoteView,
    what: tuple[str, ...],
    price: tuple[str, ...],
    figures: Figures,
) -> Iterator[Fact]:
    yield Fact(_("Your choice of") if view.choices else _("What"), "\n".join(what))
    yield Fact(_price_label(view), "\n".join(price))
    yield _where(view)
    if view.due_on is not None:
        words = _("{due_on}, if accepted on {quoted_on}")
        yield Fact(
            _("Due"),
            words.format(due_on=figures.date(view.due_on), quoted_on=figures.date(view.quoted_on)),
        )
    yield Fact(_("Valid until"), figures.date(view.valid_until))
    if view.payment:
        yield Fact(_("Payment"), payment_words(view.payment))


def _price_label(view: QuoteView) -> str:
    if view.freight_terms is Freight.INCLUDED:
        return _("Price, delivered")
    if view.freight_terms is Freight.PICKED_UP:
        return _("Price at the plant")
    return _("Price")


def _price(
    view: QuoteView,
    lines: tuple[LineWords, ...],
    choices: tuple[ChoiceWords, ...],
    figures: Figures,
) -> Iterator[str]:
    """The total, then per gallon, of each line where they are several; so of each choice."""
    for number, (choice, words) in enumerate(zip(view.choices, choices, strict=True), start=1):
        total = _with_deposit(choice.total, choice.deposits, view.currency, figures)
        alone = len(words.lines) == 1
        said = (total, *_per_volume(words.lines)) if alone else (total,)
        yield _("Choice {number}: {total}").format(number=number, total=", ".join(said))
        yield from _discount(view.off_whole(choice), view, figures)
        yield from () if alone else _per_volume(words.lines)
    if choices:
        return
    yield _with_deposit(view.total, view.deposits, view.currency, figures)
    yield from _discount(view.off_whole(), view, figures)
    yield from _per_volume(lines)


def _per_volume(lines: tuple[LineWords, ...]) -> Iterator[str]:
    """What a gallon of each costs, where they are few enough to be read."""
    for line in lines if len(lines) <= MOST_NAMED else ():
        words = _("{price} {unit}") if len(lines) == 1 else _("{price} {unit} of {blend}")
        yield words.format(price=line.per_volume.text, unit=line.per_volume.label, blend=line.title)


def _discount(off: Decimal, view: QuoteView, figures: Figures) -> Iterator[str]:
    """The discount on all lines together, which is in their prices."""
    if not off:
        return
    amount = figures.money(off, view.currency)
    if view.off_pct is None:
        yield _("after a discount of {amount} on all of it").format(amount=amount)
    else:
        yield _("after a discount of {pct} on all of it, {amount}").format(
            pct=figures.percent(view.off_pct, 0 if view.off_pct % 1 == 0 else 2), amount=amount
        )


def _with_deposit(
    total: Decimal, deposits: tuple[QuoteCharge, ...], currency: str, figures: Figures
) -> str:
    """A total, and what of it comes back."""
    deposit = sum((charge.amount for charge in deposits), Decimal(0))
    if not deposit:
        return figures.money(total, currency)
    return _("{total}, of which {deposit} is a refundable deposit").format(
        total=figures.money(total, currency), deposit=figures.money(deposit, currency)
    )


def _where(view: QuoteView) -> Fact:
    place = ", ".join((view.ship_to.name, *view.ship_to.address_lines))
    if view.freight_terms is Freight.PICKED_UP:
        return Fact(_("Picked up"), _("at the plant; no freight in the price"))
    if view.freight_terms is Freight.INCLUDED:
        return Fact(_("Delivered to"), _("{place}; freight is included").format(place=place))
    return Fact(_("Ship to"), place)


def _contact(view: QuoteView) -> str:
    return ", ".join(part for part in (view.prepared_by, view.rep_phone, view.reply_to) if part)


def _sums(
    goods: Decimal, charges: tuple[QuoteCharge, ...], currency: str, figures: Figures
) -> Iterator[Fact]:
    if not charges:
        return
    yield Fact(_("Goods"), figures.money(goods, currency))
    for charge in charges:
        yield _charge(charge, currency, figures)


def _charge(charge: QuoteCharge, currency: str, figures: Figures) -> Fact:
    label = f"{charge.label} ({charge.detail})" if charge.detail else charge.label
    return Fact(label, figures.money(charge.amount, currency))


def _line(number: int, line: QuoteLine, view: QuoteView, figures: Figures) -> LineWords:
    volume = figures.volume(line.volume_gal, 0 if line.volume_gal % 1 == 0 else 1)
    mass = figures.mass(line.mass_lb, 0)
    per_package = "" if line.is_bulk else _per_package(line, view.currency, figures)
    return LineWords(
        number=number,
        title=product_name(line.blend_name, line.grade),
        reference=line.blend_reference,
        packed=_("{volume} in bulk").format(volume=volume)
        if line.is_bulk
        else f"{line.package_count} × {package_words(line.package_name, line.package_count)}",
        amount=mass if line.is_bulk else f"{volume}, {mass}",
        contents=_contents(line, figures),
        per_volume=Fact(
            _("per {unit}").format(unit=figures.units.volume_gal.mark),
            figures.price_per_volume(line.price_per_gal, view.currency),
        ),
        per_package=per_package,
        prices=tuple(_unit_prices(line, view.currency, figures)),
        includes=tuple(_charge(charge, view.currency, figures) for charge in line.includes),
        total=figures.money(line.line_total, view.currency),
        cautions=line.cautions,
        weighed=line.weighed,
        stops=line.stops,
    )


def _per_package(line: QuoteLine, currency: str, figures: Figures) -> str:
    """A package is paid to the cent; the line's total is what counts."""
    return figures.money(money(line.price_per_package), currency)


def _contents(line: QuoteLine, figures: Figures) -> str:
    parts = [
        f"{content_word(SHORT_NAMES.get(each.label, each.label))} {figures.content(each.pct)}"
        for each in line.analysis
    ]
    told = ", ".join(parts)
    if line.slow_release_pct is not None:
        slow = _("{pct} of N slow release").format(pct=figures.content(line.slow_release_pct))
        told = f"{told}; {slow}" if told else slow
    return f"{told}; {figures.density(line.density_lb_per_gal, 2)}"


def _unit_prices(line: QuoteLine, currency: str, figures: Figures) -> Iterator[Fact]:
    """What it costs on the lawn and by the pound of nitrogen, where that is known."""
    if line.price_per_1000sqft is not None and line.n_rate_lb_per_1000sqft is not None:
        yield Fact(
            _per_area(line.n_rate_lb_per_1000sqft, figures),
            figures.price_per_area(line.price_per_1000sqft, currency),
        )
    if line.price_per_lb_n is not None:
        yield Fact(
            _("per {unit} N").format(unit=figures.units.mass_lb.mark),
            figures.price_per_mass(line.price_per_lb_n, currency),
        )


def _per_area(n_rate_lb_per_1000sqft: float, figures: Figures) -> str:
    if figures.units == US:
        return _("per 1,000 sq ft at {rate} lb N").format(
            rate=figures.significant(n_rate_lb_per_1000sqft)
        )
    return _("per {area} at {rate} N").format(
        area=figures.locale.mark(figures.units.area_1000sqft.mark),
        rate=figures.rate(n_rate_lb_per_1000sqft),
    )
