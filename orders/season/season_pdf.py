"""A season on Letter: totes a month, each round with its rate and gallons, limits and cautions."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Final

from django.conf import settings
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import pgettext
from reportlab.platypus import Flowable

from blendshop.documents import flowables, styles
from blendshop.documents.document import render
from blendshop.figures.readers import reader
from blendshop.languages.choice import Choice, written_in
from formulas.answers.promised_grade import product_name
from formulas.engine.result import Severity
from formulas.wording.law import caution_words
from orders.models import PlantProfile
from orders.papers import wording
from orders.papers.finding_box import finding_box
from orders.papers.view_models import PaperFinding
from orders.records import letterhead
from orders.records.plant_words import package_words
from orders.season.page import SeasonPage, ShownRound
from orders.season.reader_units import area_unit, is_metric, rate_unit, season_words, shown

_ROUND_COLUMNS: Final = (0.18, 0.10, 0.22, 0.08, 0.09, 0.11, 0.10, 0.12)
_PROPERTY_COLUMNS: Final = (0.40, 0.14, 0.46)


def render_season(page: SeasonPage, drawn_on: date, choice: Choice) -> bytes:
    """The season as a PDF as its reader has chosen. The same page gives the same bytes."""
    with written_in(choice):
        return _render(page, drawn_on)


def _render(page: SeasonPage, drawn_on: date) -> bytes:
    program = page.program
    masthead = letterhead.customers_masthead(
        letterhead.plant_block(PlantProfile.load()),
        _("Season"),
        str(program.year),
        reader().date(drawn_on),
        f"{program.company}: {program.name}",
    )
    story: list[Flowable] = [
        flowables.facts(_facts(page), styles.CONTENT_WIDTH, label_width=90),
        *flowables.section(_("Rounds"), [_rounds(page.rounds)] if page.rounds else []),
        flowables.prose(
            " ".join(
                (
                    _("* Grams of total nitrogen per m².")
                    if is_metric()
                    else _("* Pounds of total nitrogen per 1,000 sq ft."),
                    _(
                        "A released round stands at the price of its order, each other at that of"
                        " the day this was drawn, freight in, deposit left out; it is priced again"
                        " when it is released."
                    ),
                )
            ),
            styles.SMALL,
        ),
        *flowables.section(_("Limits that are broken"), flowables.bullets(_over(page))),
        *flowables.section(_("Properties and routes"), [_properties(page)]),
        flowables.gap(),
        finding_box(PaperFinding(Severity.CAUTION, caution_words())),
        flowables.gap(),
        flowables.prose(wording.deference(), styles.SMALL_ITALIC),
    ]
    return render(masthead, story)


def _facts(page: SeasonPage) -> list[tuple[str, str]]:
    figures, program, words = page.figures, page.program, season_words()
    months = ", ".join(
        f"{date_format(month.month, 'M')} {month.packages}" for month in figures.months
    )
    found = [
        (_("Customer"), str(program.company)),
        (_("Season"), str(program)),
        (_("Delivered to"), str(program.ship_to)),
        (str(words.areas), reader().number(shown(area_unit(), figures.acres), 2)),
        (
            _("Packages"),
            f"{figures.packages} × " + package_words(figures.package.plural_name, figures.packages),
        ),
    ]
    if months:
        found.append((_("By month"), months))
    if figures.cost_per_area is not None:
        cost = reader().money(figures.cost_per_area, settings.CURRENCY)
        told = _("{cost} a hectare") if is_metric() else _("{cost} an acre")
        found.append((_("Cost"), told.format(cost=cost)))
    if figures.cost is not None:
        found.append((_("Total"), reader().money(figures.cost, settings.CURRENCY)))
    if page.any_unassessed and not page.over_count:
        found.append((_("Limits"), _("no broken limit known, not all assessed")))
    if program.is_reserved and program.standing_order is not None:
        found.append((_("Reserved as"), program.standing_order.number))
    return found


def _rounds(rounds: Sequence[ShownRound]) -> Flowable:
    header = [
        *(
            flowables.prose(text, styles.CAPTION)
            for text in (_("Round"), _("Day"), pgettext("the product", "Blend"))
        ),
        *(
            flowables.prose(text, styles.CAPTION_RIGHT)
            for text in (
                _("g N*") if is_metric() else _("lb N*"),
                _("Volume"),
                _("Packages"),
                str(season_words().per_area),
                _("Total"),
            )
        ),
    ]
    rows = [
        [
            flowables.prose(each.figures.round.name, styles.SMALL),
            flowables.verbatim(date_format(each.figures.round.on, _("M j")), styles.SMALL),
            flowables.prose(_product(each), styles.SMALL),
            flowables.prose(
                reader().number(shown(rate_unit(), each.figures.round.n_rate_lb_per_1000sqft), 2),
                styles.BODY_RIGHT,
            ),
            flowables.prose(reader().volume(each.figures.gal, 0), styles.BODY_RIGHT),
            flowables.prose(str(each.figures.packages), styles.BODY_BOLD_RIGHT),
            flowables.prose(_per_acre(each), styles.BODY_RIGHT),
            flowables.prose(_in_all(each), styles.BODY_RIGHT),
        ]
        for each in rounds
    ]
    return flowables.ruled_table(header, rows, _widths(_ROUND_COLUMNS))


def _product(each: ShownRound) -> str:
    revision = each.figures.round.revision
    return product_name(revision.blend.name, revision.grade)


def _per_acre(each: ShownRound) -> str:
    cost = each.figures.cost_per_area
    return "" if cost is None else reader().money(cost, settings.CURRENCY)


def _in_all(each: ShownRound) -> str:
    cost = each.figures.cost
    return "" if not cost else reader().money(cost, settings.CURRENCY)


def _over(page: SeasonPage) -> list[str]:
    return [
        f"{each.round.name if each.round else page.program.year}, {each.properties}:"
        f" {each.row.jurisdiction}, {each.row.words}"
        for each in page.law.over
    ]


def _properties(page: SeasonPage) -> Flowable:
    header = [
        flowables.prose(_("Property or route"), styles.CAPTION),
        flowables.prose(str(season_words().areas), styles.CAPTION_RIGHT),
        flowables.prose(_("Place"), styles.CAPTION),
    ]
    rows = [
        [
            flowables.prose(each.name),
            flowables.prose(reader().number(shown(area_unit(), each.acres), 2), styles.BODY_RIGHT),
            flowables.prose(", ".join(p for p in (each.place, each.county, each.state) if p)),
        ]
        for each in page.properties
    ]
    return flowables.ruled_table(header, rows, _widths(_PROPERTY_COLUMNS))


def _widths(shares: Sequence[float]) -> list[float]:
    return [share * styles.CONTENT_WIDTH for share in shares]
