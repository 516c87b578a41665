"""Every figure of a base stock as a row to read: what, how much, whence, how sure."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from blendshop.figures.readers import reader
from formulas.engine.composition import ANALYSIS_KEYS, NAMES, content_pct, slow_release_pct_of_n
from formulas.engine.density.reference_temperature import REFERENCE_F
from formulas.engine.density.solutes import DENSITY_SOURCE
from formulas.engine.label.metals import METALS
from formulas.models import BaseStock, Mark, MetalFigure

_NOT_PUBLISHED = gettext_noop("no published figure found")
_NOT_ASSESSED = gettext_noop("not assessed: enter the figure of a certificate")
_OWN_SETTING = gettext_noop("the plant's own setting")
_COMPUTED = gettext_noop("computed from the contents of this table")
_NO_SOLUTES = gettext_noop("not known: its volume is taken to add up to that of the others")
_USUAL_SLOPE = gettext_noop(
    "by 0.0020 lb/gal per °F (± 0.0012), the usual slope of salt solutions: what is dissolved is"
    " not known"
)


@dataclass(frozen=True, slots=True)
class FigureRow:
    """One line of a stock's page; ``value`` is None where nobody published one."""

    label: str
    value: str | None
    unit: str
    source: str
    mark: str


def analysis_rows(stock: BaseStock) -> tuple[FigureRow, ...]:
    """Contents in label order, then what follows from them."""
    figures = {figure.key: figure for figure in stock.analysis_figures.all()}
    rows = [
        FigureRow(
            NAMES[key],
            reader().significant(figures[key].pct),
            _("% by weight"),
            figures[key].source,
            figures[key].get_mark_display(),
        )
        for key in ANALYSIS_KEYS
        if key in figures
    ]
    contents = stock.analysis()
    share = slow_release_pct_of_n(contents)
    if share is not None:
        total = reader().significant(content_pct(contents, "N"))
        rows.insert(
            0, FigureRow(NAMES["N"], total, _("% by weight"), _(_COMPUTED), Mark.COMPUTED.label)
        )
        shown = reader().number(share, 1)
        rows.append(
            FigureRow(
                "Slowly available share",
                shown,
                "% of N",
                _(_COMPUTED),
                Mark.COMPUTED.label,
            )
        )
    return tuple(rows)


def metal_rows(stock: BaseStock) -> tuple[FigureRow, ...]:
    """Every screened metal; one that nobody measured has no value, which is not zero."""
    figures = {figure.metal: figure for figure in stock.metal_figures.all()}
    return tuple(
        _metal_row(f"{name} ({metal})", figures.get(metal)) for metal, name in METALS.items()
    )


def _metal_row(label: str, figure: MetalFigure | None) -> FigureRow:
    if figure is None:
        return FigureRow(label, None, "", _(_NOT_ASSESSED), "")
    dated = (
        _(", analysed {day}").format(day=figure.measured_on.isoformat())
        if figure.measured_on
        else ""
    )
    source = f"{figure.source}{dated}"
    return FigureRow(
        label,
        reader().significant(figure.ppm),
        _("ppm by weight"),
        source,
        figure.get_mark_display(),
    )


def property_rows(stock: BaseStock) -> Iterator[FigureRow]:
    """Density, pH, salt index, and how the plant uses the stock."""
    yield FigureRow(
        _("Density at {temperature}").format(
            temperature=reader().temperature(stock.density_temp_f)
        ),
        reader().significant(stock.density_lb_per_gal),
        "lb/gal",
        stock.density_source,
        stock.get_density_mark_display(),
    )
    yield from _at_reference(stock)
    yield _optional(
        _("Dissolved in it"),
        stock.solutes or None,
        _("% by weight"),
        stock.solutes_source,
        stock.get_solutes_mark_display(),
        otherwise=_NO_SOLUTES,
    )
    yield _optional("pH", _range(stock), "", stock.ph_source, stock.get_ph_mark_display())
    yield _optional(
        _("Salt index (sodium nitrate = 100)"),
        None if stock.salt_index is None else reader().significant(stock.salt_index),
        "",
        stock.salt_index_source,
        stock.get_salt_index_mark_display(),
    )
    practice = Mark.COMMON_PRACTICE.label
    yield FigureRow(_("Charging rank"), str(stock.charging_rank), "", _(_OWN_SETTING), practice)
    shares = _("{least} to {most}").format(
        least=reader().significant(stock.min_pct), most=reader().significant(stock.max_pct)
    )
    share_source = stock.share_source or _(_OWN_SETTING)
    yield FigureRow(_("Share of a blend"), shares, "%", share_source, "")
    yield FigureRow(
        _("Scale step"), reader().significant(stock.scale_step_lb), "lb", _(_OWN_SETTING), ""
    )


def _at_reference(stock: BaseStock) -> Iterator[FigureRow]:
    """The density blends are figured with, where the published one is at another temperature."""
    if stock.density_temp_f == REFERENCE_F:
        return
    known = stock.solutes or stock.is_water
    yield FigureRow(
        _("Density at {temperature}, as blends are figured").format(
            temperature=reader().temperature(REFERENCE_F)
        ),
        reader().significant(stock.density_at_60_f(), 4),
        "lb/gal",
        DENSITY_SOURCE if known else _(_USUAL_SLOPE),
        Mark.COMPUTED.label,
    )


def _optional(
    label: str,
    value: str | None,
    unit: str,
    source: str,
    mark: str,
    *,
    otherwise: str = _NOT_PUBLISHED,
) -> FigureRow:
    if value is None:
        return FigureRow(label, None, "", _(otherwise), "")
    return FigureRow(label, value, unit, source, mark)


def _range(stock: BaseStock) -> str | None:
    ends = [reader().significant(end) for end in (stock.ph_low, stock.ph_high) if end is not None]
    match list(dict.fromkeys(ends)):
        case [least, most]:
            return _("{least} to {most}").format(least=least, most=most)
        case [only]:
            return only
    return None
