"""Which lines a label of a blend may print, from the least its default load holds."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from decimal import Decimal

from formulas.engine.composition import WISH_KEYS
from formulas.engine.label.guarantee import LabelBasis, draft_label
from formulas.engine.label.printed_figures import PRECISION_PCT
from formulas.engine.label.rules import Kind
from formulas.engine.label.sources import chelated_parts, label_sources
from formulas.engine.result import Share
from orders.frozen.label_lines import LabelLines
from orders.planning.load_question import LoadRecipe


def all_kept(labels: Iterable[Mapping[str, Decimal]]) -> dict[str, Decimal]:
    """What a load of several products has to hold so that each keeps its lines: the highest."""
    kept: dict[str, Decimal] = {}
    for lines in labels:
        for key, pct in lines.items():
            kept[key] = max(pct, kept.get(key, pct))
    return kept


def label_lines(
    recipe: LoadRecipe,
    least_pct: Mapping[str, float],
    shares_pct: Mapping[str, float],
    *,
    density_lb_per_gal: float,
    load: str,
) -> LabelLines:
    """The printed lines that every weight on target keeps.

    ``least_pct`` is the least of each content over all such weights, ``shares_pct`` each stock's
    share of what is weighed, ``load`` says in words which load this is. Lines of other names than
    contents (chelated parts) follow from the recipe and are not promised here.
    """
    stocks = {stock.code: stock for stock in recipe.stocks}
    shares = [Share(code, pct) for code, pct in shares_pct.items()]
    terms = {
        code: tuple(term.strip() for term in row.derived_from.split(",") if term.strip())
        for code, row in recipe.rows.items()
    }
    # A label reads an analysis up by its precision; what is sure must not be exceeded by that.
    sure = {key: pct - PRECISION_PCT for key, pct in least_pct.items() if key != "N"}
    analysis = {key: pct for key, pct in sure.items() if pct > 0}
    draft = draft_label(
        LabelBasis(
            analysis=analysis,
            kind=Kind.SPECIALTY,
            sources=label_sources(shares, stocks, terms),
            density_lb_per_gal=density_lb_per_gal,
            volume_gal=1.0,  # lines are percent; net contents are not taken from this draft
            chelated={
                key: min(pct, analysis.get(key, 0.0))
                for key, pct in chelated_parts(shares, stocks).items()
            },
            promised=recipe.promise.minima_pct,
        )
    )
    lines = {line.key: line.pct for line in draft.guarantees}
    lines |= {line.key: line.pct for line in draft.other_ingredients}
    return LabelLines(
        lines_pct={key: pct for key, pct in lines.items() if key in WISH_KEYS}, load=load
    )
