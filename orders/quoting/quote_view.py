"""A frozen quote to what its paper prints; no figure here is one of today's stocks or costs.

Cautions are of the moment the paper is issued; a paper issued again keeps those it had, and the
language and units it was written in.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Final

from django.conf import settings
from django.utils import timezone
from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from blendshop.figures.readers import reader
from formulas.engine.composition import (
    NITROGEN_FORMS,
    OTHER_INGREDIENTS,
    SHORT_NAMES,
    in_label_order,
)
from orders.models import PlantProfile, Quote, QuoteLine
from orders.papers.view_models import AnalysisFigure
from orders.pricing import StepCode, customer_lines
from orders.quoting import view_models as paper
from orders.quoting.choices import Choice, alternative_words, choices_among
from orders.quoting.customer_cautions import blend_cautions, customer_stops, standing_cautions
from orders.quoting.deals import deal_of_quote
from orders.quoting.line_strip import StripLine, stops_by_line
from orders.quoting.load_words import weighed_words
from orders.records.letterhead import Party, plant_block
from orders.records.plant_words import package_words
from orders.records.reply_address import rep_of, reply_address
from orders.records.written import (
    ENGLISH,
    has_english_beside,
    spanish_beside,
    writing,
    written_for,
)

#: Charges a customer may see beside the product; in English as pricing names them.
_CHARGES: Final[Mapping[str, Promise]] = {
    StepCode.PACKAGE: gettext_lazy("Package"),
    StepCode.LAB: gettext_lazy("Laboratory"),
    StepCode.TONNAGE: gettext_lazy("State tonnage fee"),
    StepCode.FREIGHT: gettext_lazy("Freight"),
    StepCode.DISCOUNT: gettext_lazy("Discount"),
    StepCode.QUOTE_DISCOUNT: gettext_lazy("Share of the discount on all of it"),
}


def quote_view(
    quote: Quote, *, accept_url: str = "", issued: paper.QuoteView | None = None
) -> paper.QuoteView:
    """The quote as it was priced; ``accept_url`` is the signed link, if it may be answered.

    ``issued`` is the paper there is already, whose cautions, language and units are kept.
    """
    written = written_for(quote.company) if issued is None else issued.written
    with writing(written):
        view = replace(_gathered(quote, accept_url, issued), written=written)
    if has_english_beside(written):
        with writing(ENGLISH):
            english = _gathered(quote, accept_url, issued and issued.in_english)
        view = replace(view, in_english=replace(english, written=ENGLISH))
    kept_so = issued is None or issued.in_spanish is not None
    if kept_so and (spanish := spanish_beside(written)):
        with writing(spanish):
            told = _gathered(quote, accept_url, issued and issued.in_spanish)
        view = replace(view, in_spanish=replace(told, written=spanish))
    return view


def _gathered(quote: Quote, accept_url: str, issued: paper.QuoteView | None) -> paper.QuoteView:
    plant = PlantProfile.load()
    lines = list(quote.lines.select_related("revision__blend", "package"))
    cautions = _cautions(lines) if issued is None else [line.cautions for line in issued.lines]
    stops = _stops(quote, lines) if issued is None else [line.stops for line in issued.lines]
    rep, deal = rep_of(quote), deal_of_quote(quote)
    choices = tuple(_choice(choice, lines) for choice in choices_among(lines, quote.chosen))
    return paper.QuoteView(
        plant=plant_block(plant),
        number=quote.number,
        quoted_on=timezone.localdate(quote.sent_at or quote.created_at),
        valid_until=quote.valid_until,
        customer=Party(name=quote.company.name),
        ship_to=Party(quote.ship_to.label, quote.ship_to.address_lines[1:]),
        lines=tuple(_quote_line(line, cautions[at], stops[at]) for at, line in enumerate(lines)),
        deposits=() if choices else _deposits(lines),
        # As it was sent, whatever was chosen since.
        total=min((choice.total for choice in choices), default=quote.total),
        choices=choices,
        currency=settings.CURRENCY,
        prepared_by=quote.created_by.name,
        notes=quote.notes,
        terms=tuple(part for part in plant.quote_terms.splitlines() if part.strip()),
        accept_url=accept_url,
        cautions=standing_cautions([line.revision for line in lines])
        if issued is None
        else issued.cautions,
        due_on=quote.due_on,
        replaces=quote.replaces.number if quote.replaces else "",
        freight_terms=_freight(quote) if issued is None else issued.freight_terms,
        payment=quote.agreed_payment_terms if issued is None else issued.payment,
        off_pct=deal.pct if deal else None,
        rep_phone=rep.phone if rep else "",
        reply_to=reply_address(quote),
    )


def offered(quote: Quote) -> paper.QuoteView:
    """What stands on the quote's newest paper; of a quote without one, what would stand there."""
    newest = quote.papers.order_by("-pk").first()
    return paper.QuoteView.from_json(newest.snapshot) if newest else quote_view(quote)


def _freight(quote: Quote) -> paper.Freight:
    """Freight is a step of every line's price, so it is in the total where there is any."""
    is_picked_up = quote.ship_to.zone.pick_up
    return paper.Freight.PICKED_UP if is_picked_up else paper.Freight.INCLUDED


def _cautions(lines: list[QuoteLine]) -> list[tuple[str, ...]]:
    return [blend_cautions(line.revision) for line in lines]


def _stops(quote: Quote, lines: list[QuoteLine]) -> list[tuple[str, ...]]:
    """As the customer sprayed when it was quoted."""
    found = stops_by_line(
        [StripLine.of(line) for line in lines],
        company=quote.company,
        ship_to=quote.ship_to,
        today=timezone.localdate(),
    )
    return [customer_stops(stops) for stops in found]


def _quote_line(
    line: QuoteLine, cautions: tuple[str, ...], stops: tuple[str, ...]
) -> paper.QuoteLine:
    package, price = line.package, line.price_breakdown
    blend = price.blend
    return paper.QuoteLine(
        blend_name=blend.name,
        blend_reference=_("revision {number}").format(number=blend.revision_number),
        grade=blend.grade,
        analysis=tuple(
            AnalysisFigure(SHORT_NAMES[key] if key in OTHER_INGREDIENTS else key, pct)
            for key, pct in in_label_order(blend.analysis).items()
            if key not in NITROGEN_FORMS
        ),
        slow_release_pct=blend.slow_release_pct,
        density_lb_per_gal=blend.density_lb_per_gal
        if price.load is None
        else price.load.density_lb_per_gal,
        package_name=package.name if line.quantity == 1 else package.plural_name,
        package_count=1 if package.is_bulk else line.quantity,
        volume_gal=line.volume_gal,
        mass_lb=line.mass_lb,
        price_per_gal=line.price_per_gal,
        price_per_package=line.price_per_package or line.line_total,  # bulk goes as one load
        line_total=line.line_total,
        n_rate_lb_per_1000sqft=line.n_rate_lb_per_1000sqft,
        price_per_1000sqft=price.price_per_1000sqft,
        price_per_lb_n=price.price_per_lb_n,
        cautions=cautions,
        weighed=weighed_words(price.load, reader()) if price.load else "",
        is_bulk=package.is_bulk,
        off_whole=-price.amount(StepCode.QUOTE_DISCOUNT) or None,
        stops=stops,
        includes=tuple(
            paper.QuoteCharge(str(_CHARGES.get(each.code, each.label)), each.amount)
            for each in customer_lines(price)[1:]
            if each.code != StepCode.DEPOSIT
        ),
    )


def _choice(choice: Choice, lines: list[QuoteLine]) -> paper.QuoteChoice:
    numbers = {line.pk: number for number, line in enumerate(lines, start=1)}
    return paper.QuoteChoice(
        name=_("Choice {number}, {taken}").format(
            number=choice.number, taken=alternative_words(choice)
        ),
        lines=tuple(numbers[line.pk] for line in choice.lines),
        deposits=_deposits(choice.lines),
        total=choice.total,
    )


def _deposits(lines: Sequence[QuoteLine]) -> tuple[paper.QuoteCharge, ...]:
    return tuple(_deposit(line) for line in lines if line.deposit)


def _deposit(line: QuoteLine) -> paper.QuoteCharge:
    name = line.package.name if line.quantity == 1 else line.package.plural_name
    return paper.QuoteCharge(
        _("Refundable deposit"),
        line.deposit,
        _("line {line}: {quantity} × {package}").format(
            line=line.position,
            quantity=line.quantity,
            package=package_words(name, line.quantity),
        ),
    )
